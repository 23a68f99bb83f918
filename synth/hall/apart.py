"""Feed row and fuel row of one wing, kept apart: whether their wiring couples, and where one must not go."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.checks import design_findings
from sim.geometry import HORIZONTAL, Cell, step
from sim.layout import ItemKind, Layout
from sim.parts import Gauge, Inverter, Line, Part, Relay, Support
from sim.rulebook import Rules
from synth.hall.joining import Gaps, joined
from synth.hall.lanes import End, Lane
from synth.hall.piece_question import Barred, smallest_number
from synth.hall.pieces import WIRING, RowPieces
from synth.hall.wing import Wing
from synth.schemes.registry import scheme_named


def rows_apart(feed: RowPieces, fuel: RowPieces, end: End, rules: Rules) -> bool:
    """A short wing of both has no design findings: no signal of one row gets into the other."""
    n = max(smallest_number(scheme_named(row.scheme)) for row in (feed, fuel))
    wing = Wing(n, feed, fuel, end, finishes={"side": "marked"})
    together = joined([[wing]], Gaps())
    if len({part.at for part in together.parts()}) < len(together.parts()):
        return False
    layout = Layout(
        "",
        together.size,
        {"feed": ItemKind(fires_to="product"), "fuel": ItemKind(burn=rules.firing)},
        tuple(together.parts()),
        (*together.streams("top", "feed", "feed"), *together.streams("side", "fuel", "fuel")),
    )
    return not design_findings(layout, rules)


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
