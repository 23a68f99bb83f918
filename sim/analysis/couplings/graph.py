"""The graph of influence: whose state can enter whose, law by law (rulebook section 4).

Vertices are signal parts, solid cells (once as energised, once as strongly energised), nodes (as things that are
locked) and lines, each line once for every level that a feed can leave in it: a full source reaches as far as the
rulebook says and no farther. Two graphs over the same vertices:

* ``varying``: an edge where a change of the first can change the second. What stays the same whatever the containers
  hold (``sim.world.signals.bounds``) has no edges, so nothing is carried through a line that nothing can light, a
  relay that is always on or a cell that is always energised.
* ``steady``: an edge where the first keeps the second on whatever the containers hold.

``varying`` has every influence there is, and may have more: it asks what one thing alone could change, not whether the
fillings that this takes ever come together.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Literal, NamedTuple

import networkx as nx

from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Relay
from sim.world.rulebook import Rules
from sim.world.signals.bounds import bounds
from sim.world.signals.field import Field
from sim.world.signals.wiring import Wiring, wiring_of

Kind = Literal["part", "line", "strong", "solid", "node"]
Law = Literal[
    "in front",
    "beside",
    "directly below",
    "links to",
    "on top of",
    "points into",
    "energises strongly",
    "feeds",
    "mount",
    "behind",
    "side input",
    "latches",
    "locks",
]


class Vertex(NamedTuple):
    """A thing by its number in the wiring; ``level`` only of a line: what a full source still leaves in it."""

    kind: Kind
    number: int
    level: int = 0


Edge = tuple[Vertex, Vertex, Law]


@dataclass(frozen=True, slots=True)
class InfluenceGraph:
    """Both graphs, each edge with its ``law``. ``gauges``: those that read something, by number."""

    layout: Layout
    wiring: Wiring
    varying: nx.DiGraph[Vertex]
    steady: nx.DiGraph[Vertex]
    gauges: tuple[int, ...]

    def cell(self, vertex: Vertex) -> Cell:
        """Where a vertex is."""
        w = self.wiring
        match vertex.kind:
            case "part":
                return w.parts[vertex.number].at
            case "line":
                return w.lines[vertex.number]
            case "node":
                return w.nodes[vertex.number]
            case _:
                return w.solids[vertex.number]


def influence_graph(layout: Layout, rules: Rules) -> InfluenceGraph:
    """The graph of a layout under the rules in force.

    Time: ``bounds``, then linear in the parts times the lines within reach of one feed (its square in a plane full of
    lines).
    """
    wiring = wiring_of(layout)
    least, most = bounds(wiring, rules.reach)
    varying, steady = _Varying(least, most), _Steady(least, most)
    gauges = tuple(i for i, cell in enumerate(wiring.reads) if cell is not None)
    return InfluenceGraph(layout, wiring, _graph(wiring, varying), _graph(wiring, steady), gauges)


class _Varying:
    """What is not the same for all contents."""

    def __init__(self, least: Field, most: Field) -> None:
        self.reach = most.reach
        self.part = _unequal(least.out, most.out)
        self.line = _unequal(least.level, most.level)
        self.strong = _unequal(least.strong, most.strong)
        self.solid = _unequal(least.energised, most.energised)
        self.node = _unequal(least.locked, most.locked)


class _Steady:
    """What is on for all contents."""

    def __init__(self, least: Field, most: Field) -> None:
        self.reach = most.reach
        self.part = [out > 0 for out in least.out]
        self.line = [level > 0 for level in least.level]
        self.strong = [level > 0 for level in least.strong]
        self.solid = least.energised
        self.node = least.locked


Partaking = _Varying | _Steady
"""Which things have a part in a graph."""


def _unequal(least: Iterable[int], most: Iterable[int]) -> list[bool]:
    return [low != high for low, high in zip(least, most, strict=True)]


def _graph(wiring: Wiring, those: Partaking) -> nx.DiGraph[Vertex]:
    graph: nx.DiGraph[Vertex] = nx.DiGraph()
    graph.add_nodes_from(Vertex("part", i) for i, there in enumerate(those.part) if there)
    levels = _levels(wiring, those)
    for first, second, law in chain(
        _of_parts(wiring, those), _of_lines(wiring, those, levels), _of_solids(wiring, those)
    ):
        if not graph.has_edge(first, second):
            graph.add_edge(first, second, law=law)
    return graph


def _of_parts(w: Wiring, those: Partaking) -> Iterator[Edge]:
    for i, part in enumerate(w.parts):
        if not those.part[i]:
            continue
        me, is_inverter = Vertex("part", i), isinstance(part, Inverter)
        for s in w.strong_into[i]:
            if those.strong[s]:
                yield me, Vertex("strong", s), "directly below" if is_inverter else "in front"
        for line in w.feeds_lines[i]:
            if those.line[line]:
                yield me, Vertex("line", line, those.reach), "beside" if is_inverter else "in front"
        for node in w.nodes_of_part[i]:
            if those.node[node]:
                yield me, Vertex("node", node), "beside" if is_inverter else "in front"
        for other in w.readers_of_part[i]:
            if those.part[other]:
                yield me, Vertex("part", other), _law_of_reader(w, other, i in w.input_parts[other])


def _of_lines(w: Wiring, those: Partaking, levels: dict[Vertex, None]) -> Iterator[Edge]:
    for me in levels:
        line = me.number
        if me.level > 1:
            for other in w.linked_from[line]:
                if (linked := Vertex("line", other, me.level - 1)) in levels:
                    yield me, linked, "links to"
        for s in w.weak_into[line]:
            if those.solid[s]:
                yield me, Vertex("solid", s), "on top of" if _is_below(w, s, line) else "points into"
        for node in w.nodes_of_line[line]:
            if those.node[node]:
                yield me, Vertex("node", node), "points into"
        for part in w.readers_of_line[line]:
            if those.part[part]:
                yield me, Vertex("part", part), _law_of_reader(w, part, line in w.input_lines[part])


def _of_solids(w: Wiring, those: Partaking) -> Iterator[Edge]:
    for s in range(len(w.solids)):
        if those.strong[s]:
            if those.solid[s]:
                yield Vertex("strong", s), Vertex("solid", s), "energises strongly"
            for line in w.lines_of_solid[s]:
                if those.line[line]:
                    yield Vertex("strong", s), Vertex("line", line, those.reach), "feeds"
        if those.solid[s]:
            me = Vertex("solid", s)
            for part in w.readers_of_solid[s]:
                if those.part[part]:
                    yield me, Vertex("part", part), "mount" if isinstance(w.parts[part], Inverter) else "behind"
            for node in w.nodes_of_solid[s]:
                if those.node[node]:
                    yield me, Vertex("node", node), "locks"


def _levels(w: Wiring, those: Partaking) -> dict[Vertex, None]:
    """Every line with every level that a full feed of its run can leave in it, breadth first from each fed line."""
    levels: dict[Vertex, None] = {}
    for line in range(len(w.lines)):
        fed = any(those.part[i] for i in w.line_sources[line]) or any(those.strong[s] for s in w.solids_of_line[line])
        if fed and those.line[line]:
            levels |= dict.fromkeys(_around(w, those, line))
    return levels


def _around(w: Wiring, those: Partaking, fed: int) -> list[Vertex]:
    """The lines within reach of one that is fed in full, each with its highest level."""
    found = [Vertex("line", fed, those.reach)]
    seen = {fed}
    for _, line, level in found:
        if level > 1:
            for other in w.linked_from[line]:
                if other not in seen and those.line[other]:
                    seen.add(other)
                    found.append(Vertex("line", other, level - 1))
    return found


def _law_of_reader(w: Wiring, part: int, from_behind: bool) -> Law:
    """By which law a part reads a line or another part."""
    if from_behind:
        return "behind"
    return "latches" if isinstance(w.parts[part], Relay) else "side input"


def _is_below(w: Wiring, solid: int, line: int) -> bool:
    return w.solids[solid][2] < w.lines[line][2]


def gauge_vertices(graph: InfluenceGraph) -> Iterator[tuple[Vertex, Cell]]:
    """Each gauge that reads something, with the cell of the container."""
    for i in graph.gauges:
        cell = graph.wiring.reads[i]
        assert cell is not None
        assert isinstance(graph.wiring.parts[i], Gauge)
        yield Vertex("part", i), cell
