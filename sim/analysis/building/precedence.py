"""What must be placed before what, as a graph of cells, and an order that keeps to it."""

from __future__ import annotations

from collections.abc import Mapping

import networkx as nx

from sim.analysis.building.anchors import anchors
from sim.analysis.building.bases import hanging_cell, is_base, rank
from sim.world.geometry import Cell, is_ground, neighbours, step
from sim.world.parts import Node, Part


def sequence(build: Mapping[Cell, Part]) -> list[Cell]:
    """The cells of ``build`` in the order of placing, layer by layer as far as the graph allows.

    What a part hangs on must be in ``build``.

    networkx's lexicographical topological sort: O((n + e) log n) with e at most 2n edges, and for every pocket (see
    ``_open_pockets``) up to ten searches of the graph.
    """
    return list(nx.lexicographical_topological_sort(precedence(build), key=lambda cell: rank(build[cell])))


def precedence(build: Mapping[Cell, Part]) -> nx.DiGraph[Cell]:
    """An edge from each part to those that must come later. Without cycles: anchors form a forest whose roots wait for
    nothing, what hangs has nothing that waits for it, and a wall of a pocket is one that nothing there waits for."""
    graph: nx.DiGraph[Cell] = nx.DiGraph()
    graph.add_nodes_from(build)
    begun = []
    for cell, anchor in anchors(build).items():
        if anchor is None:
            begun.append(cell)
        elif not is_ground(anchor):
            graph.add_edge(anchor, cell)
    for cell, part in build.items():
        base = hanging_cell(part)
        if base is not None and not is_ground(base):
            graph.add_edge(base, cell)
    aimed_at_nothing = [part for cell in begun if isinstance(part := build[cell], Node)]
    for node in aimed_at_nothing:  # the temporary support takes the cell in front, so its part comes later
        if step(node.at, node.outlet) in build:
            graph.add_edge(node.at, step(node.at, node.outlet))
    _open_pockets(build, graph, aimed_at_nothing)
    return graph


def _open_pockets(build: Mapping[Cell, Part], graph: nx.DiGraph[Cell], nodes: list[Node]) -> None:
    """Where the cell in front of a node that pushes into no body is walled in, one of its walls comes after the node.

    Else no hand could take the temporary support out again. A high wall stays open rather than a low one, and one that
    little waits for; none can be where the node, or the part in the pocket, waits for all of them.
    """
    for node in nodes:
        pocket = step(node.at, node.outlet)
        walls = [cell for cell in neighbours(pocket) if cell != node.at]
        if not all(is_base(build, wall) for wall in walls):
            continue
        later = [cell for cell in (node.at, pocket) if cell in build]
        walls = [wall for wall in walls if wall in build]
        loose = [wall for wall in walls if not any(nx.has_path(graph, wall, cell) for cell in later)]
        if loose:
            wall = min(loose, key=lambda wall: (-wall[2], graph.out_degree(wall), rank(build[wall])))
            graph.add_edges_from((cell, wall) for cell in later)
