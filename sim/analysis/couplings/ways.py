"""Shortest ways through a graph of influence, from several sources at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

import networkx as nx

from sim.analysis.couplings.graph import Vertex

Tree = Mapping[Vertex, Vertex | None]
"""The vertex before each one reached, None before a source; nearest first."""


def tree_of(
    graph: nx.DiGraph[Vertex], sources: Iterable[Vertex], passes: Callable[[Vertex], bool] = lambda _: True
) -> Tree:
    """Shortest ways from the nearest source to everything that it reaches through vertices that ``passes`` lets pass.

    Breadth first, linear in what is reached. Of ways of the same length the one stays whose source and edges stand
    first in the file.
    """
    before: dict[Vertex, Vertex | None] = {vertex: None for vertex in sources if vertex in graph and passes(vertex)}
    waiting = list(before)
    for vertex in waiting:
        for other in graph.successors(vertex):
            if other not in before and passes(other):
                before[other] = vertex
                waiting.append(other)
    return before


def way_to(tree: Tree, target: Vertex) -> tuple[Vertex, ...]:
    """From a source to ``target``, which the tree reaches."""
    way = [target]
    while (before := tree[way[-1]]) is not None:
        way.append(before)
    return tuple(reversed(way))
