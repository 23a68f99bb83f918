"""Update orders: which pairs of machines matter to each other, and one order for each way that they can stand.

Two machines whose turns touch nothing in common can take them in either order, with the same result. So only the
relative order of *neighbours* in the exchange graph counts, and the update orders that can differ are its acyclic
orientations; their number is the chromatic polynomial at -1, up to sign (Stanley 1973).

Neighbours are machines that touch a container in common: a node touches what is above it, itself and its target. That
is more than who hands items to whom: T1 pushes into T2 and B2 pulls from T2, so that their order matters too. And
machines that touch containers read by two gauges whose signals can meet: which change is scheduled first may matter.
Outputs that are emptied as they fill are nobody's common ground.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from itertools import combinations

import networkx as nx
import numpy as np

from sim.world.geometry import Cell, step
from sim.world.kernel.orders import fill_orders, new_walk
from sim.world.kernel.places import Numbers
from sim.world.layout import Layout
from sim.world.parts import Furnace, Node
from sim.world.signals.wiring import Wiring, wiring_of

ORDERS_AT_ONCE = 4_096


def exchange_graph(layout: Layout, sinks: Collection[Cell] = ()) -> nx.Graph[Cell]:
    """Machines that can act, by cell; an edge between two whose relative order can matter.

    ``sinks``: outputs that keep nothing. Time: quadratic in the machines, linear in the wiring for each gauge.
    """
    touched = {part.at: cells for part in layout.machines if (cells := _touches(layout, part, sinks))}
    graph: nx.Graph[Cell] = nx.Graph()
    graph.add_nodes_from(touched)
    meeting = _containers_that_meet(wiring_of(layout))
    for one, other in combinations(touched, 2):
        common = touched[one] & touched[other]
        ties = any((a, b) in meeting for a in touched[one] for b in touched[other])
        if common or ties:
            graph.add_edge(one, other)
    return graph


def orientations(graph: nx.Graph[Cell]) -> Iterator[tuple[Cell, ...]]:
    """One update order of the graph's machines for each acyclic orientation. Time: linear in the edges for each."""
    cells = list(graph.nodes)
    for block in blocks_of_orders(graph, cells):
        for row in block:
            yield tuple(cells[i] for i in row)


def blocks_of_orders(graph: nx.Graph[Cell], cells: list[Cell]) -> Iterator[np.ndarray]:
    """The same as arrays of indices into ``cells``, so many at once."""
    index = {cell: i for i, cell in enumerate(cells)}
    edges = np.array([[index[a], index[b]] for a, b in graph.edges], np.int32).reshape(-1, 2)
    walk = new_walk(len(cells), len(edges))
    while True:
        block: Numbers = np.zeros((ORDERS_AT_ONCE, len(cells)), np.int32)
        count = fill_orders(edges, walk, block)
        if count:
            yield block[:count]
        if count < ORDERS_AT_ONCE:
            return


def _touches(layout: Layout, part: Node | Furnace, sinks: Collection[Cell]) -> frozenset[Cell]:
    """The containers that the turn of a machine may change or look at; none if its turn can do nothing."""
    if isinstance(part, Furnace):
        return frozenset() if part.at in sinks else frozenset({part.at})
    containers = {one.at for one in layout.containers}
    above, target = step(part.at, "U"), step(part.at, part.outlet)
    if not {above, target} & containers:
        return frozenset()
    return frozenset({part.at, above, target} & containers - set(sinks))


def _containers_that_meet(wiring: Wiring) -> set[tuple[Cell, Cell]]:
    """Pairs of containers, of which a gauge of one and a gauge of the other can act on some part or lock in common."""
    reaches = {
        cell: frozenset().union(*(_downstream(wiring, gauge) for gauge in gauges))
        for cell, gauges in wiring.gauges_of_container.items()
    }
    pairs: set[tuple[Cell, Cell]] = set()
    for one, other in combinations(reaches, 2):
        if reaches[one] & reaches[other]:
            pairs |= {(one, other), (other, one)}
    return pairs


def _downstream(w: Wiring, gauge: int) -> frozenset[tuple[str, int]]:
    """Signal parts and nodes that a gauge can act on, through whatever."""
    graph: nx.DiGraph[tuple[str, int]] = nx.DiGraph()
    graph.add_node(("part", gauge))
    for part in range(len(w.parts)):
        me = ("part", part)
        graph.add_edges_from((me, ("part", reader)) for reader in w.readers_of_part[part])
        graph.add_edges_from((me, ("node", node)) for node in w.nodes_of_part[part])
        graph.add_edges_from((me, ("solid", solid)) for solid in w.strong_into[part])
        graph.add_edges_from((me, ("line", line)) for line in w.feeds_lines[part])
    for solid in range(len(w.solids)):
        me = ("solid", solid)
        graph.add_edges_from((me, ("part", reader)) for reader in w.readers_of_solid[solid])
        graph.add_edges_from((me, ("node", node)) for node in w.nodes_of_solid[solid])
        graph.add_edges_from((me, ("line", line)) for line in w.lines_of_solid[solid])
    for line in range(len(w.lines)):
        me = ("line", line)
        graph.add_edges_from((me, ("part", reader)) for reader in w.readers_of_line[line])
        graph.add_edges_from((me, ("node", node)) for node in w.nodes_of_line[line])
        graph.add_edges_from((me, ("solid", solid)) for solid in w.weak_into[line])
        graph.add_edges_from((("line", other), me) for other in w.linked_from[line])
        graph.add_edges_from((me, ("line", other)) for other in w.linked_from[line])
    reached = nx.descendants(graph, ("part", gauge)) | {("part", gauge)}
    return frozenset(one for one in reached if one[0] in ("part", "node"))
