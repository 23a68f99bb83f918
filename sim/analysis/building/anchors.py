"""Which body each body is put against, so that the fewest need a temporary support.

Layers are built upwards. In one layer every body waits for *any one* of those that it may be put against: one above
the ground or a body waits for nothing more, a node for the body in front of its outlet alone. So in the graph "may be
put against" everything can be reached from what is there already and one body of each strongly connected component
into which no edge comes from outside. One such body must get a temporary support, for nothing else lets its component
begin; the others need none. A search in breadth from these gives each body its anchor.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from typing import Final

import networkx as nx

from sim.analysis.building.bases import BODIES, Body, bases, is_base, rank
from sim.world.geometry import Cell, is_ground, step
from sim.world.parts import Node, Part

START: Final[Cell] = (0, 0, -2)
"""Stands for the ground and all that stands below the layer; no part's cell."""


def anchors(build: Mapping[Cell, Part]) -> dict[Cell, Cell | None]:
    """By cell of each body: the ground or body that it is put against; None where that takes a temporary support.

    O(n log n) for n parts, the sorting; all else is linear.
    """
    layers: defaultdict[int, list[Body]] = defaultdict(list)
    for part in sorted(build.values(), key=rank):
        if isinstance(part, BODIES):
            layers[part.at[2]].append(part)
    return {cell: anchor for z in sorted(layers) for cell, anchor in _layer(build, layers[z])}


def _layer(build: Mapping[Cell, Part], bodies: Iterable[Body]) -> Iterator[tuple[Cell, Cell | None]]:
    graph: nx.DiGraph[Cell] = nx.DiGraph()
    graph.add_node(START)
    ready: dict[Cell, Cell] = {}
    for body in bodies:
        graph.add_node(body.at)
        for base in (base for base in bases(body) if is_base(build, base)):
            if is_ground(base) or base[2] < body.at[2]:
                ready.setdefault(body.at, base)
                graph.add_edge(START, body.at)
            elif base[2] == body.at[2]:
                graph.add_edge(base, body.at)
    begun = set(_beginnings(build, graph))
    graph.add_edges_from((START, cell) for cell in sorted(begun))
    yield from ((cell, None) for cell in sorted(begun))
    for cell, before in nx.bfs_predecessors(graph, START):
        if cell not in begun:
            yield cell, ready[cell] if before == START else before


def _beginnings(build: Mapping[Cell, Part], graph: nx.DiGraph[Cell]) -> Iterator[Cell]:
    """One body of each component that no edge leads into: it is begun with a temporary support."""
    parts_of_graph = nx.condensation(graph)
    for number, incoming in parts_of_graph.in_degree():
        cells: set[Cell] = parts_of_graph.nodes[number]["members"]
        if incoming == 0 and START not in cells:
            yield min(cells, key=lambda cell: _trouble(build, cell))


def _trouble(build: Mapping[Cell, Part], cell: Cell) -> tuple[int, tuple[int, int, int, int]]:
    """How many supports it takes to stack up to a temporary one; then the usual order, in which nodes come last."""
    part = build[cell]
    below, height = step(step(cell, part.outlet if isinstance(part, Node) else "D"), "D"), 1
    while not is_base(build, below):
        below, height = step(below, "D"), height + 1
    return height, rank(part)
