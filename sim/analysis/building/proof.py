"""The proof of a build order: every step replayed on an empty site, every condition looked at afresh.

Written from the rules in ``sim.analysis.building`` and rulebook section 2, without any code of the finder and without
the laws in ``sim.world.signals``, so that a fault in those does not hide here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from sim.analysis.building.step import BuildStep
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Node, Part, Relay
from sim.world.statement import Mention, Statement, Toward, Value

OFFSETS: Final = {"E": (1, 0, 0), "W": (-1, 0, 0), "N": (0, 1, 0), "S": (0, -1, 0), "U": (0, 0, 1), "D": (0, 0, -1)}
AIMED_AT: Final = frozenset({"support", "furnace", "bin", "node"})
HUNG_ON: Final = frozenset({"support", "furnace"})
HUNG_ON_WHAT_IS_BELOW: Final = frozenset({"line", "relay", "gauge"})


def prove(layout: Layout, steps: Iterable[BuildStep]) -> list[Statement]:
    """What is wrong with ``steps`` as an order to build ``layout``; empty: nothing.

    Then each step is possible when its turn comes, and the end is the layout exactly, with no temporary support left.
    O(n) for n steps and parts.
    """
    replay = _Replay()
    faults = [fault for number, step in enumerate(steps, 1) for fault in replay.take(step, number)]
    return [*faults, *replay.compare(layout)]


class _Replay:
    def __init__(self) -> None:
        self.standing: dict[Cell, Part] = {}
        self.temporary: set[Cell] = set()
        self.layer = 0
        self.number = 0

    def take(self, step: BuildStep, number: int) -> Iterator[Statement]:
        """The faults of one step, which is then taken whether or not it has any."""
        self.number = number
        if step.number != number:
            yield self._fault("number", {"number": step.number})
        if step.layer < self.layer:
            yield self._fault("layer")
        self.layer = max(self.layer, step.layer)
        yield from self._place(step) if step.action == "place" else self._remove(step)

    def _place(self, step: BuildStep) -> Iterator[Statement]:
        part = step.part
        what = Mention(part.kind, part.at)
        if part.at[2] < 0:
            yield self._fault("outside", {"part": what})
        if part.at in self.standing:
            yield self._fault("taken", {"part": what, "other": self._mention(part.at)})
        if step.is_temporary and part.kind != "support":
            yield self._fault("temporary_kind", {"part": what})
        if step.facing != _set_by_placing(part):
            yield self._fault("facing", {"part": what})
        if not self._has_open_side(part.at):
            yield self._fault("reach", {"part": what})
        yield from self._held(step)
        self.standing[part.at] = part
        if step.is_temporary:
            self.temporary.add(part.at)

    def _held(self, step: BuildStep) -> Iterator[Statement]:
        """Faults in what the part is put against."""
        part = step.part
        said: dict[str, Value] = {"part": Mention(part.kind, part.at), "base": self._mention(step.against)}
        if step.against not in _beside(part.at):
            yield self._fault("not_beside", said)
        hung = _hung_on(part)
        if not self._is(step.against, AIMED_AT if hung is None else HUNG_ON):
            yield self._fault("nothing_there", said)
        if hung is not None and step.against != hung:
            yield self._fault("hangs_wrong", said)
        if isinstance(part, Node) and step.against != _moved(part.at, part.outlet):
            yield self._fault("aimed_wrong", {**said, "direction": Toward(part.outlet)})

    def _remove(self, step: BuildStep) -> Iterator[Statement]:
        at = step.part.at
        what = Mention(step.part.kind, at)
        if self.standing.get(at) != step.part:
            yield self._fault("not_there", {"part": what})
            return
        if at not in self.temporary or not step.is_temporary:
            yield self._fault("not_temporary", {"part": what})
        for cell in _beside(at):
            if cell in self.standing and _hung_on(self.standing[cell]) == at:
                yield self._fault("still_hangs", {"part": what, "hanging": self._mention(cell)})
        if not self._has_open_side(at):
            yield self._fault("reach", {"part": what})
        del self.standing[at]
        self.temporary.discard(at)

    def compare(self, layout: Layout) -> Iterator[Statement]:
        """Faults of the end: what is left, what is not as in the layout, what is missing."""
        wanted = {part.at: part for part in layout.parts}
        for cell, part in self.standing.items():
            if cell in self.temporary:
                yield Statement("building.fault_left", {"part": Mention(part.kind, cell)})
            elif wanted.get(cell) != part:
                yield Statement("building.fault_not_in_layout", {"part": Mention(part.kind, cell)})
        for cell, part in wanted.items():
            if cell not in self.standing:
                yield Statement("building.fault_missing", {"part": Mention(part.kind, cell)})

    def _fault(self, name: str, values: Mapping[str, Value] | None = None) -> Statement:
        return Statement(f"building.fault_{name}", {"step": self.number, **(values or {})})

    def _is(self, cell: Cell, kinds: frozenset[str]) -> bool:
        return cell[2] < 0 or (cell in self.standing and self.standing[cell].kind in kinds)

    def _has_open_side(self, cell: Cell) -> bool:
        return not all(self._is(neighbour, AIMED_AT) for neighbour in _beside(cell))

    def _mention(self, cell: Cell) -> Mention:
        kind = self.standing[cell].kind if cell in self.standing else "ground" if cell[2] < 0 else "cell"
        return Mention(kind, cell)


def _moved(cell: Cell, direction: str) -> Cell:
    dx, dy, dz = OFFSETS[direction]
    return cell[0] + dx, cell[1] + dy, cell[2] + dz


def _beside(cell: Cell) -> list[Cell]:
    return [_moved(cell, direction) for direction in OFFSETS]


def _hung_on(part: Part) -> Cell | None:
    """Rulebook section 2: the cell that must be solid for the part to stay."""
    if isinstance(part, Inverter):
        return _moved(part.at, part.mount)
    return _moved(part.at, "D") if part.kind in HUNG_ON_WHAT_IS_BELOW else None


def _set_by_placing(part: Part) -> str | None:
    """The direction that the way of placing decides: outlet, mount or output."""
    match part:
        case Node():
            return part.outlet
        case Inverter():
            return part.mount
        case Relay() | Gauge():
            return part.output
        case _:
            return None
