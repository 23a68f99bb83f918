"""Which rows drive which signals: the graph of influence with its runs of lines taken as one thing each.

Each gauge that reads a container of one row alone marks what it drives, directly or through others, with that row.
Containers that several rows share (a kiln: feed and fuel) are shared on purpose: their gauges mark nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import networkx as nx

from sim.analysis.couplings.graph import InfluenceGraph, Vertex
from sim.analysis.couplings.sources import Origin
from sim.analysis.couplings.ways import Tree, tree_of
from sim.world.signals.field import line_nets
from sim.world.signals.wiring import Wiring

Thing = tuple[Literal["run", "solid", "strong", "part", "node"], int]
"""A run of lines, a solid cell (energised at all, or strongly), a signal part or a node, by number."""
Marks = Mapping[str, int]
"""The rows that drive a thing, each with the number of the nearest gauge that does."""


@dataclass(frozen=True, slots=True)
class Influence:
    """``things``: what drives what. ``trees``: the shortest ways from each row's gauges. ``marks``: what drives each
    thing (nothing: not listed). ``meetings``: things where signals of different rows first meet."""

    wiring: Wiring
    runs: tuple[tuple[int, ...], ...]
    run_of: Sequence[int]
    things: nx.DiGraph[Thing]
    trees: Mapping[str, Tree]
    marks: Mapping[Thing, Marks]
    meetings: tuple[Thing, ...]

    def thing(self, vertex: Vertex) -> Thing:
        """The thing that a vertex of the graph belongs to."""
        return _thing(self.run_of, vertex)

    def rows(self, thing: Thing) -> frozenset[str]:
        """The rows that drive a thing."""
        return frozenset(self.marks.get(thing, ()))


def influence_in(graph: InfluenceGraph, gauges: Mapping[Origin, Sequence[Vertex]]) -> Influence:
    """The marks of every thing; ``gauges``: by the rows that they read.

    Time: linear in the graph times the number of rows.
    """
    run_of, nets = line_nets(graph.wiring)
    things: nx.DiGraph[Thing] = nx.DiGraph()
    things.add_nodes_from(_thing(run_of, vertex) for vertex in graph.varying)
    ends = ((_thing(run_of, first), _thing(run_of, second)) for first, second in graph.varying.edges)
    things.add_edges_from(pair for pair in ends if pair[0] != pair[1])
    trees = {rows[0]: tree_of(graph.varying, sources) for rows, sources in gauges.items() if len(rows) == 1}
    marks = _marks(run_of, trees)
    members = tuple(tuple(sorted(net)) for net in nets)
    return Influence(graph.wiring, members, run_of, things, trees, marks, tuple(_meetings(things, marks)))


def _marks(run_of: Sequence[int], trees: Mapping[str, Tree]) -> dict[Thing, Marks]:
    marks: dict[Thing, dict[str, int]] = {}
    for row, tree in trees.items():
        gauge: dict[Vertex, int] = {}
        for vertex, before in tree.items():
            gauge[vertex] = vertex.number if before is None else gauge[before]
            marks.setdefault(_thing(run_of, vertex), {}).setdefault(row, gauge[vertex])
    return dict(marks)


def _meetings(things: nx.DiGraph[Thing], marks: Mapping[Thing, Marks]) -> Iterator[Thing]:
    """Where the signals of two rows are that have not both come from one thing further up. Things that drive each
    other count as one (strongly connected components). Nodes lead no further and tell nothing here."""
    knots = nx.condensation(things)
    for knot in nx.topological_sort(knots):
        members: set[Thing] = knots.nodes[knot]["members"]
        told = min(members, key=lambda thing: (-len(marks.get(thing, ())), _telling(thing)))
        if told[0] == "node" or len(here := frozenset(marks.get(told, ()))) < 2:
            continue
        before = (thing for other in knots.predecessors(knot) for thing in knots.nodes[other]["members"])
        if not any(here <= marks.get(thing, {}).keys() for thing in before):
            yield told


def _thing(run_of: Sequence[int], vertex: Vertex) -> Thing:
    return ("run", run_of[vertex.number]) if vertex.kind == "line" else (vertex.kind, vertex.number)


def _telling(thing: Thing) -> tuple[int, int]:
    """Of things that drive each other a run tells most, then a solid cell, then a part."""
    return ("run", "solid", "strong", "part", "node").index(thing[0]), thing[1]
