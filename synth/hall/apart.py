"""Feed row and fuel row of one wing, kept apart: whether their wiring couples, and where one must not go."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

from sim.analysis.checks import design_findings
from sim.analysis.couplings import couplings
from sim.world.geometry import HORIZONTAL, Cell, step
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Line, Part, Relay, Support
from sim.world.rulebook import Rules
from synth.hall.joining import TURNED, Gaps, joined, layout_alone
from synth.hall.lanes import FEED, FUEL, HEIGHT, End, Lane
from synth.hall.piece_question import Barred, smallest_number
from synth.hall.pieces import WIRING, RowPieces
from synth.hall.wing import Wing
from synth.model.images import turned_cell, turned_part
from synth.schemes.registry import scheme_named


def rows_apart(feed: RowPieces, fuel: RowPieces, end: End, rules: Rules) -> bool:
    """A short wing of both has no design findings: no signal of one row gets into the other."""
    layout, _ = _short_wing(feed, fuel, end, rules)
    return layout is not None and not design_findings(layout, rules)


def where_they_meet(feed: RowPieces, fuel: RowPieces, end: End, rules: Rules) -> tuple[Barred, Barred]:
    """Parts of the feed row, and of the fuel row, by cell and kind, where a signal passes from one row's wiring to the
    other's."""
    layout, (dx, dy, dz) = _short_wing(feed, fuel, end, rules)
    n = _number(feed, fuel)
    fed = {part.at: part.kind for part in feed.wiring(n)}
    fuelled = {part.at: part.kind for part in fuel.wiring(n)}
    met = fed.keys() & fuelled.keys()
    for coupling in couplings(layout, rules) if layout is not None else ():
        cells = [(x - dx, y - dy, z - dz) for x, y, z in (step.cell for step in coupling.path)]
        for pair in pairwise(cells):
            if any(cell in fed for cell in pair) and any(cell in fuelled for cell in pair):
                met |= set(pair)
    return (
        frozenset((cell, fed[cell]) for cell in met if cell in fed),
        frozenset((cell, fuelled[cell]) for cell in met if cell in fuelled),
    )


def _number(feed: RowPieces, fuel: RowPieces) -> int:
    return max(smallest_number(scheme_named(row.scheme)) for row in (feed, fuel))


def _short_wing(feed: RowPieces, fuel: RowPieces, end: End, rules: Rules) -> tuple[Layout | None, Cell]:
    """A wing of both, and how far it is moved from the coordinates of a wing; None: two parts would be in one cell."""
    wing = Wing(_number(feed, fuel), feed, fuel, end, finishes={"side": "marked"})
    together = joined([[wing]], Gaps())
    parts, moved = together.parts(), together.places[0].offset
    if len({part.at for part in parts}) < len(parts):
        return None, moved
    return layout_alone(together, rules), moved


def barred_beside(row: RowPieces, lane: Lane, n: int) -> Barred:
    """What the wiring of ``lane`` must keep out of, because of the other row's wiring next to it.

    Not all that could couple is barred (a line may or may not point into a cell), so what comes of it is checked. In
    the coordinates of a wing of n, the number that the pieces of ``lane`` are cut from.
    """
    return frozenset(
        (cell, kind)
        for part in row.wiring(n)
        for cell, kinds in _beside(part)
        for kind in kinds
        if cell[1] * lane.wiring >= lane.y * lane.wiring
    )


def barred_in_a_close_wing(fuel: RowPieces, n: int) -> Barred:
    """What the wiring of the feed row must keep out of, in all lanes: the fuel row's wiring of a wing of n, and what
    would couple with it or with that of a wing that faces this one; lines that would meet those of its feed row."""
    wiring = tuple(fuel.wiring(n))
    last = n + fuel.after - 1
    facing = (turned_part(part, TURNED, _across(last)) for part in wiring)
    beside = frozenset((cell, kind) for part in (*wiring, *facing) for cell, kinds in _beside(part) for kind in kinds)
    itself = frozenset((part.at, kind) for part in wiring for kind in WIRING)
    lines = frozenset(((last, FUEL.y, z), "line") for z in range(HEIGHT))
    return frozenset(bar for bar in beside | itself | lines if bar[0][0] <= last)


def _across(last: int) -> Callable[[Cell], Cell]:
    """Where a cell of a wing that faces this one stands in this one's coordinates; ``last``: of its columns."""

    def move(cell: Cell) -> Cell:
        x, y, z = turned_cell(cell, TURNED)
        return x + 2 * last + 1, y + FEED.y + FUEL.y, z

    return move


def _beside(part: Part) -> Iterator[tuple[Cell, Sequence[str]]]:
    """Cells near a part of the other row, and the kinds that would couple with it there."""
    around = [step(part.at, side) for side in HORIZONTAL]
    above, below = step(part.at, "U"), step(part.at, "D")
    match part:
        case Line():
            yield from ((cell, ("line", "inverter", "relay", "gauge")) for cell in around)
            yield from ((step(cell, up), ("line",)) for cell in around for up in ("U", "D"))
            yield from ((cell, ("inverter",)) for cell in (above, below))
        case Inverter():
            yield from ((cell, ("line", "relay")) for cell in around)
            yield from ((above, ("line", "support")), (below, ("line",)))
        case Relay() | Gauge():
            yield from ((cell, ("line", "relay", "gauge", "inverter")) for cell in around)
            yield step(part.at, part.output), WIRING
        case Support():
            yield above, ("line", "inverter")
