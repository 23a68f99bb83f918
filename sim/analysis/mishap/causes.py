"""Why a node was locked or unlocked at a time: what the recording and the graph of influence show together.

A lock that opened in tick u did so because a part that has an instant way to the node (through lines and solid cells
alone) changed in tick u; a relay or inverter did that because, its own delay before, a part with an instant way to it
changed; and so on back to gauges. The graph of influence leaves out no way there is
(``sim.analysis.couplings.graph``), so where only one gauge comes up on that way back it is the cause. Where several
do, or a step finds none (a latch, a stretched pulse, what was settled before tick 1), no cause is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import networkx as nx

from sim.analysis.couplings.graph import InfluenceGraph, Vertex, influence_graph
from sim.world.geometry import Cell
from sim.world.parts import Container, Gauge, Inverter, Relay
from sim.world.recording import Burning, Move, Recording, Steps, value_at
from sim.world.signals.timing import delay_of


@dataclass(frozen=True, slots=True)
class Reading:
    """In ``tick`` the output of ``gauge`` changed, because it read ``container``: empty, or no longer empty."""

    tick: int
    gauge: Cell
    container: Cell
    is_empty: bool


class Causes:
    """The graph of influence of a recording's layout, made when it is first asked; one search of it for each answer."""

    def __init__(self, recording: Recording) -> None:
        self._recording = recording

    @cached_property
    def _graph(self) -> InfluenceGraph:
        return influence_graph(self._recording.layout, self._recording.rules)

    @cached_property
    def _numbers(self) -> dict[Cell, int]:
        return {cell: number for number, cell in enumerate(self._graph.wiring.nodes)}

    def can_be_locked(self, cell: Cell) -> bool:
        """Some signal can lock the node, at times or always."""
        return self._is_in(self._graph.varying, cell) or self.is_always_locked(cell)

    def is_always_locked(self, cell: Cell) -> bool:
        """The node is locked whatever the containers hold."""
        return self._is_in(self._graph.steady, cell)

    def lockers(self, cell: Cell) -> tuple[Cell, ...]:
        """The parts that are on at the end of the run and have an instant way to the node, in file order.

        Of a node that is always locked: those that are always on.
        """
        graph = self._graph.steady if self.is_always_locked(cell) else self._graph.varying
        parts = self._graph.wiring.parts
        found = sorted(self._before(graph, Vertex("node", self._numbers[cell])))
        signals = self._recording.signals
        return tuple(parts[part].at for part in found if signals[parts[part].at][-1][1] > 0)

    def of_lock(self, cell: Cell, tick: int) -> Reading | None:
        """What one gauge read so that the node's lock changed in ``tick``; None: the recording does not show it."""
        now = value_at(self._recording.locks[cell], tick)
        waiting = self._changed(Vertex("node", self._numbers[cell]), tick, rises=bool(now))
        gauges: dict[tuple[int, int], None] = {}
        seen = set(waiting)
        for part, then in waiting:
            it = self._graph.wiring.parts[part]
            if isinstance(it, Gauge):
                gauges.setdefault((part, then))
                continue
            rises = (self._value(part, then) > 0) != isinstance(it, Inverter)
            noticed = then - delay_of(it, self._recording.rules)
            before = self._changed(Vertex("part", part), noticed, rises=rises)
            if not before or any(self._change(one, noticed) for one in (part, *self._latching(part))):
                return None  # the second: it changed itself or was let go then, so what it noticed may be older
            waiting += [one for one in before if one not in seen]
            seen.update(before)
        return self._reading(*next(iter(gauges))) if len(gauges) == 1 else None

    def _reading(self, part: int, tick: int) -> Reading | None:
        """What the gauge read when it changed in ``tick``, if that had changed since it last was as it wanted to be:
        until a gauge delay before. Else it was its side input that changed, or how much the container held.
        """
        container = self._graph.wiring.reads[part]
        if container is None:
            return None
        is_empty = self._is_empty(container, tick - 1)
        if is_empty == self._is_empty(container, tick - self._recording.rules.gauge_delay - 1):
            return None
        return Reading(tick, self._graph.wiring.parts[part].at, container, is_empty)

    def _is_empty(self, container: Cell, tick: int) -> bool:
        """At the end of ``tick``; before tick 0: as the layout has it, without the load."""
        if tick < 0:
            part = self._recording.layout.by_cell[container]
            return not (isinstance(part, Container) and any(part.holds))
        return value_at(counts_in(self._recording, container), tick) == 0

    def _changed(self, vertex: Vertex, tick: int, *, rises: bool) -> list[tuple[int, int]]:
        """The parts with an instant way to ``vertex`` that changed in ``tick`` in the direction that tells on it."""
        if tick < 1:
            return []
        found = sorted(self._before(self._graph.varying, vertex))
        changes = ((part, self._change(part, tick)) for part in found)
        return [(part, tick) for part, change in changes if (change > 0 if rises else change < 0)]

    def _latching(self, part: int) -> tuple[int, ...]:
        """The parts that can latch it."""
        wiring = self._graph.wiring
        return tuple(wiring.side_parts[part]) if isinstance(wiring.parts[part], Relay) else ()

    def _change(self, part: int, tick: int) -> int:
        return self._value(part, tick) - self._value(part, tick - 1)

    def _value(self, part: int, tick: int) -> int:
        return value_at(self._recording.signals[self._graph.wiring.parts[part].at], tick)

    @staticmethod
    def _before(graph: nx.DiGraph[Vertex], vertex: Vertex) -> set[int]:
        """The parts from which a way leads to ``vertex`` through lines and solid cells alone; latches do not count."""
        found: set[int] = set()
        seen, waiting = {vertex}, [vertex] if vertex in graph else []
        for one in waiting:
            for other in graph.predecessors(one):
                if graph.edges[other, one]["law"] == "latches" or other in seen:
                    continue
                seen.add(other)
                if other.kind == "part":
                    found.add(other.number)
                else:
                    waiting.append(other)
        return found

    def _is_in(self, graph: nx.DiGraph[Vertex], cell: Cell) -> bool:
        return cell in self._numbers and Vertex("node", self._numbers[cell]) in graph


def counts_in(recording: Recording, cell: Cell) -> Steps:
    """How many items a container held at the end of each tick. Linear in the events."""
    counts = {0: sum(slot[1] for slot in recording.start[cell] if slot is not None)}
    now = counts[0]
    for event in recording.events:
        if isinstance(event, Move):
            now += (event.target == cell) - (event.source == cell)
        elif isinstance(event, Burning):
            now -= event.furnace == cell  # firing turns one item into one other
        counts[event.tick] = now
    steps = list(counts.items())
    return (steps[0], *(step for before, step in pairwise(steps) if step[1] != before[1]))


def since_when(steps: Steps, tick: int) -> int:
    """Since which tick a step function has had the value that it has at the end of ``tick``."""
    return next(then for then, _ in reversed(steps) if then <= tick)
