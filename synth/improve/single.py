"""Every single change of a build, tried in the simulator: what the constraint model cannot say is tried here too.

The model has no latched relays, no gauges on other containers, no feedback. Here each cell takes each part in turn, or
loses its own, and the world decides: that no single change does it is then shown by trying them all, without a model.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from typing import Final

from sim.analysis.checks.standing import no_support
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import (
    DELAYS,
    MOUNTS,
    OUTLETS,
    OUTPUTS,
    Bin,
    Furnace,
    Gauge,
    Inverter,
    Line,
    Node,
    Part,
    Relay,
    Support,
)
from synth.confirm.confirmation import works_at_all
from synth.confirm.judge import Judge
from synth.improve.differences import Change, is_same
from synth.model.decode import reading_order

TRIED_MOST: Final = 5_000
"""Most changes of a build that are worth trying one by one."""
Stopped = Callable[[], bool]


@dataclass(slots=True)
class Singles:
    """What came of it. ``passing``: the changes after which the build passes, in the order in which they were tried.

    ``tried`` of ``possible``: fewer where it was stopped (``complete`` is false then, and nothing is shown).
    """

    possible: int
    tried: int = 0
    passing: list[Change] = field(default_factory=list)

    @property
    def complete(self) -> bool:
        """All were tried."""
        return self.tried == self.possible

    @property
    def none_will_do(self) -> bool:
        """Shown: no single change makes the build pass."""
        return self.complete and not self.passing


def single_changes(build: Layout) -> list[Change]:
    """Every change of one cell of the site: a part added, taken away, turned, set or replaced.

    Sources stay bins, outputs stay what they are: those name the task. A part that stays keeps its contents.
    """
    fixed = {stream.source for stream in build.streams} | {cell for stream in build.streams for cell in stream.outputs}
    w, d, h = build.size
    cells = sorted(product(range(w), range(d), range(h)), key=reading_order)
    return [change for cell in cells for change in _of_cell(cell, build.by_cell.get(cell), cell in fixed)]


def changed(build: Layout, change: Change) -> Layout:
    """The build with the change made: a new part comes in the place of the one that it replaces, or at the end."""
    if change.before is None:
        assert change.after is not None
        return replace(build, parts=(*build.parts, change.after))
    there = (change.after if part.at == change.at else part for part in build.parts)
    return replace(build, parts=tuple(part for part in there if part is not None))


def try_singles(build: Layout, judges: Sequence[Judge], is_stopped: Stopped, *, first_only: bool = False) -> Singles:
    """Every single change, tried until ``is_stopped`` (asked between any two), or until one passes (``first_only``).

    A build passes where one of the ``judges`` accepts it. Time: one short trial a change, more only for those that
    pass it.
    """
    todo = single_changes(build)
    found = Singles(len(todo))
    for change in todo:
        if is_stopped():
            break
        found.tried += 1
        if _passes(changed(build, change), judges):
            found.passing.append(change)
            if first_only:
                break
    return found


def _passes(layout: Layout, judges: Sequence[Judge]) -> bool:
    """Quick looks first: what no part stands on, then the two smallest loads."""
    if any(no_support(layout, judges[0].spec.rules)):
        return False
    return any(
        works_at_all(layout, judge.spec.rules, judge.needed, judge.terms) and judge.accepts(layout) for judge in judges
    )


def _of_cell(cell: Cell, part: Part | None, is_fixed: bool) -> Iterator[Change]:
    if is_fixed:
        if isinstance(part, Bin):
            yield Change(part, replace(part, finish="plain" if part.finish == "marked" else "marked"))
        return
    if part is not None:
        yield Change(part, None)
    for other in _every_part(cell):
        new = replace(other, holds=part.holds) if isinstance(other, Node) and isinstance(part, Node) else other
        if not is_same(part, new):
            yield Change(part, new)


def _every_part(cell: Cell) -> Iterator[Part]:
    """Each part in each way in which it can be set up."""
    yield Support(cell)
    yield Line(cell)
    yield from (Inverter(cell, mount) for mount in MOUNTS)
    yield from (Relay(cell, output, delay) for output, delay in product(OUTPUTS, DELAYS))
    yield from (Gauge(cell, output) for output in OUTPUTS)
    yield from (Node(cell, outlet) for outlet in OUTLETS)
    yield Furnace(cell)
    yield Bin(cell)
    yield Bin(cell, "marked")
