"""What the locks of a finished row do, held against the lock table of a scheme."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from sim.world.geometry import Cell
from sim.world.layout import Layout, Stream
from sim.world.parts import Holds, Node
from sim.world.rulebook import default_rules
from sim.world.world import World
from synth.schemes.filling import count_reading, stacked
from synth.schemes.scheme import LockRow, Nodes, Role, Scheme, Which

Number = tuple[Role, int]


@dataclass(frozen=True, slots=True)
class LockReading:
    """What the locks are in one row of a scheme's table. ``locked``: for each class of nodes (None: some are locked and
    some not)."""

    reads: tuple[bool, ...]
    locked: tuple[bool | None, ...]

    def sentence(self, scheme: Scheme, outputs: int) -> str:
        """The row in words."""
        given = [
            f"{scheme.words(watch.nodes, outputs)} {scheme.state_words(watch)[reads]}"
            for watch, reads in zip(scheme.watches, self.reads, strict=True)
        ]
        lockable = scheme.lockable()
        shown = [
            f"{_named(scheme, nodes, outputs)} {_LOCKED[locked]}"
            for nodes, locked in zip(scheme.classes, self.locked, strict=True)
            if nodes in lockable and scheme.members(nodes, outputs)
        ]
        return f"{', '.join(given)}: {', '.join(shown)}"


_LOCKED: Mapping[bool | None, str] = {True: "locked", False: "unlocked", None: "some locked, some not"}


def _named(scheme: Scheme, nodes: Nodes, outputs: int) -> str:
    if nodes.which is Which.EVERY:
        return f"the {nodes.role} nodes are"
    return f"{scheme.words(nodes, outputs)} {'is' if len(scheme.members(nodes, outputs)) == 1 else 'are'}"


def lock_readings(
    layout: Layout, stream: Stream, scheme: Scheme, row: Sequence[Cell], drops: Sequence[Cell]
) -> Iterator[LockReading]:
    """The locks in each row of the scheme's table, all nodes of a watch alike."""
    bench = _Bench(layout, stream, scheme, row, drops)
    for wanted in scheme.table:
        locked = bench.locked(bench.alike(wanted))
        yield LockReading(wanted.reads, tuple(_common(bench, nodes, locked) for nodes in scheme.classes))


def fits(layout: Layout, stream: Stream, scheme: Scheme, row: Sequence[Cell], drops: Sequence[Cell]) -> bool:
    """The locks are as the table has them; where nodes are watched apart, also with one number unlike the others."""
    bench = _Bench(layout, stream, scheme, row, drops)
    return all(_obeys(bench, holding) for row in scheme.table for holding in bench.holdings(row))


def _obeys(bench: _Bench, holding: Mapping[Number, bool]) -> bool:
    asked = {number: bench.asked(number, holding) for number in bench.cells}
    return all(
        wanted is None or locked[number] == wanted
        for locked in (bench.locked(holding), bench.locked(holding, nearly=True))
        for number, wanted in asked.items()
    )


def _common(bench: _Bench, nodes: Nodes, locked: Mapping[Number, bool]) -> bool | None:
    found = {locked[nodes.role, i] for i in bench.scheme.members(nodes, bench.outputs)}
    return found.pop() if len(found) == 1 else None if found else False


class _Bench:
    """A row in which the watched nodes can be filled and the locks looked at."""

    def __init__(
        self, layout: Layout, stream: Stream, scheme: Scheme, row: Sequence[Cell], drops: Sequence[Cell]
    ) -> None:
        self.layout, self.scheme, self.outputs = layout, scheme, len(stream.outputs)
        self.cells: dict[Number, Cell] = {
            **{("T", i): cell for i, cell in enumerate(row, scheme.first)},
            **{("B", i): cell for i, cell in enumerate(drops, 1)},
        }
        self._item, self._rules = stream.item, layout.rules_in_force(default_rules())
        self._stack = layout.stack_limit(self._rules)(stream.item)

    def alike(self, row: LockRow) -> dict[Number, bool]:
        """What each watched node holds in a row of the table."""
        return {
            (watch.nodes.role, i): reads
            for watch, reads in zip(self.scheme.watches, row.reads, strict=True)
            for i in self.scheme.members(watch.nodes, self.outputs)
        }

    def holdings(self, row: LockRow) -> Iterator[dict[Number, bool]]:
        """All nodes of a watch alike; then each one of those that are watched apart unlike its fellows."""
        alike = self.alike(row)
        yield alike
        for watch in self.scheme.watches:
            for i in self.scheme.members(watch.nodes, self.outputs) if watch.apart else ():
                yield {**alike, (watch.nodes.role, i): not alike[watch.nodes.role, i]}

    def asked(self, number: Number, holding: Mapping[Number, bool]) -> bool | None:
        """Whether the table has that node locked (None: it has no say)."""
        i = number[1]
        kind = next((k for k, one in enumerate(self.scheme.classes) if self._is_of(number, one)), None)
        if kind is None:
            return None
        reads = tuple(
            any(holding[watch.nodes.role, j] for j in self.scheme.members(watch.nodes, self.outputs)
                if not watch.apart or j == i)
            for watch in self.scheme.watches
        )  # fmt: skip
        rows = [row for row in self.scheme.table if _agree(self.scheme, row, reads, i, self.outputs)]
        return rows[0].locked[kind]

    def locked(self, holding: Mapping[Number, bool], *, nearly: bool = False) -> dict[Number, bool]:
        """What is locked, settled, with those nodes reading enough and all others nothing, or ``nearly`` enough."""
        contents = {self.cells[number]: self._contents(number, holds, nearly) for number, holds in holding.items()}
        parts = tuple(
            replace(part, holds=contents.get(part.at, ())) if isinstance(part, Node) else part
            for part in self.layout.parts
        )
        world = World(replace(self.layout, parts=parts))
        return {number: world.field.locked[world.nodes[cell].number] for number, cell in self.cells.items()}

    def _contents(self, number: Number, holds: bool, nearly: bool) -> Holds:
        """What a watched node holds that reads enough, or not."""
        if self.scheme.reads_full:
            brim = replace(self.scheme, brimmed=True).start(self._item, self._stack, self._rules)
            return ((self._item, self._stack),) * self._rules.node_slots if holds else brim
        watch = next(one for one in self.scheme.watches if self._is_of(number, one.nodes))
        enough = count_reading(watch.level, self._stack, self._rules)
        return stacked(self._item, enough if holds else max(0, enough - 1) * nearly, self._stack)

    def _is_of(self, number: Number, nodes: Nodes) -> bool:
        return number[0] == nodes.role and number[1] in self.scheme.members(nodes, self.outputs)


def _agree(scheme: Scheme, row: LockRow, reads: Sequence[bool], number: int, outputs: int) -> bool:
    """The row of the table is the one for a node of that number, whose own watched fellow may not exist."""
    return all(
        wanted == there or (watch.apart and number not in scheme.members(watch.nodes, outputs))
        for watch, wanted, there in zip(scheme.watches, row.reads, reads, strict=True)
    )
