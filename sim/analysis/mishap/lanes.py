"""Where the ways of a stream part: for each output, the node at which an item is taken for that output alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from sim.analysis.couplings.rows import rows_of
from sim.world.geometry import Cell, step
from sim.world.layout import Layout, Stream
from sim.world.parts import Node
from sim.world.recording import Recording


@dataclass(frozen=True, slots=True)
class Lane:
    """``gate``: where takings are counted; ``takes``: the ticks in which it took an item of the stream's kind."""

    gate: Cell
    takes: tuple[int, ...]


def gates_of(recording: Recording, stream: Stream, can_be_locked: Callable[[Cell], bool]) -> tuple[Lane, ...]:
    """The lanes of a stream, in the order of its outputs; empty: some output has no way of its own.

    A gate is the last node before the output or, where no signal can lock that one, the nearest node up the way that
    leads to this output alone and that a signal can lock. An output has no way of its own where several nodes of the
    stream push into it, where it pulls by itself, or where items of the kind lie on the way from the start. Linear in
    the parts times the outputs, and in the events.
    """
    of = rows_of(recording.layout).of
    flows = _Flows(recording.layout, frozenset(cell for cell, names in of.items() if stream.name in names))
    ways = [_way(flows, stream, output, can_be_locked) for output in stream.outputs]
    cells = {cell for way in ways for cell in way}
    if not all(ways) or any(_holds(recording, stream.item, cell) for cell in cells):
        return ()
    return _lanes(recording, stream.item, [way[-1] for way in ways])


def outputs_of(recording: Recording, stream: Stream) -> tuple[Lane, ...]:
    """The outputs themselves as lanes. Linear in the events."""
    return _lanes(recording, stream.item, stream.outputs)


def givers(layout: Layout, cell: Cell) -> tuple[Cell, ...]:
    """The containers from which items get into the container in ``cell``: the one above a node, and nodes that push."""
    return _Flows(layout, frozenset(part.at for part in layout.containers)).into(cell)


@dataclass(frozen=True)
class _Flows:
    """Who can hand items to whom (rulebook section 3), blind to room and locks, among the containers ``those``."""

    layout: Layout
    those: frozenset[Cell]

    def into(self, cell: Cell) -> tuple[Cell, ...]:
        """The containers that can hand something to ``cell``, each once."""
        by_cell = self.layout.by_cell
        above = step(cell, "U")
        found = [above] if isinstance(by_cell[cell], Node) else []
        beside = (step(cell, d) for d in ("E", "W", "N", "S", "U"))
        found += [c for c in beside if isinstance(node := by_cell.get(c), Node) and step(c, node.outlet) == cell]
        return tuple(one for one in dict.fromkeys(found) if one in self.those)

    def out_of(self, cell: Cell) -> Iterator[Cell]:
        """The containers that something in ``cell`` can go to next."""
        by_cell = self.layout.by_cell
        part = by_cell[cell]
        if isinstance(part, Node) and (to := step(cell, part.outlet)) in self.those:
            yield to
        if (below := step(cell, "D")) in self.those and isinstance(by_cell[below], Node):
            yield below

    def ends_in(self, cell: Cell, output: Cell, outputs: frozenset[Cell]) -> bool:
        """Of the outputs, what is in ``cell`` can come to this one alone."""
        seen, waiting = {cell}, [cell]
        for one in waiting:
            if one in outputs:
                if one != output:
                    return False
                continue
            for other in self.out_of(one):
                if other not in seen:
                    seen.add(other)
                    waiting.append(other)
        return output in seen


def _way(flows: _Flows, stream: Stream, output: Cell, can_be_locked: Callable[[Cell], bool]) -> tuple[Cell, ...]:
    """The way from the last node before an output up to its gate; empty: it has no way of its own."""
    by_cell, outputs = flows.layout.by_cell, frozenset(stream.outputs)
    before = flows.into(output)
    if len(before) != 1 or before[0] in outputs or not isinstance(by_cell[before[0]], Node):
        return ()
    if isinstance(by_cell[output], Node) and before[0] == step(output, "U"):
        return ()  # it pulls by itself, whatever the node above does
    way = [before[0]]
    while not can_be_locked(way[-1]):
        up = flows.into(way[-1])
        is_own = len(up) == 1 and up[0] not in outputs and up[0] not in way and isinstance(by_cell[up[0]], Node)
        if not is_own or not flows.ends_in(up[0], output, outputs):
            return (before[0],)
        way.append(up[0])
    return tuple(way)


def _holds(recording: Recording, kind: str, cell: Cell) -> bool:
    return any(slot is not None and slot[0] == kind for slot in recording.start[cell])


def _lanes(recording: Recording, kind: str, gates: Sequence[Cell]) -> tuple[Lane, ...]:
    takes: dict[Cell, list[int]] = {gate: [] for gate in gates}
    for move in recording.moves:
        if move.kind == kind and move.source is not None and move.target in takes:
            takes[move.target].append(move.tick)
    return tuple(Lane(gate, tuple(takes[gate])) for gate in gates)
