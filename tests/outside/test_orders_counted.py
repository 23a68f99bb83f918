"""The update orders that can differ against the chromatic polynomial.

The acyclic orientations of a graph are as many as the absolute value of its chromatic polynomial at -1 (Stanley:
Acyclic orientations of graphs, Discrete Mathematics 5 (1973) 171-178; from memory). NetworkX works the polynomial out
by deletion and contraction (``nx.chromatic_polynomial``). Values of known graphs are worked out by hand.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from itertools import permutations
from math import factorial
from pathlib import Path

import networkx as nx
import pytest

from outside.rows import burst_row_layout
from sim.analysis.assure.orders import exchange_graph, orientations
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace

PLANS = Path(__file__).resolve().parents[2] / "specs" / "layouts"
Turned = frozenset[tuple[Cell, Cell]]


def by_chromatic_polynomial(graph: nx.Graph[Cell]) -> int:
    """|P(-1)|; a graph's parts that do not hang together are multiplied."""
    total = 1
    for members in nx.connected_components(graph):
        polynomial = nx.chromatic_polynomial(graph.subgraph(members))
        total *= abs(int(polynomial.subs(dict.fromkeys(polynomial.free_symbols, -1))))
    return total


def turned(graph: nx.Graph[Cell], order: Sequence[Cell]) -> Turned:
    """The orientation that an order stands for: of each edge the earlier end first."""
    at = {cell: i for i, cell in enumerate(order)}
    return frozenset((a, b) if at[a] < at[b] else (b, a) for a, b in graph.edges)


def on_cells(edges: Iterable[tuple[int, int]], nodes: int) -> nx.Graph[Cell]:
    """A graph on cells in a line."""
    graph: nx.Graph[Cell] = nx.Graph()
    graph.add_nodes_from((i, 0, 0) for i in range(nodes))
    graph.add_edges_from(((a, 0, 0), (b, 0, 0)) for a, b in edges)
    return graph


KNOWN = {
    "no edge": (on_cells([], 4), 1),
    "path of 6": (on_cells([(i, i + 1) for i in range(5)], 6), 2**5),
    "cycle of 5": (on_cells([(i, (i + 1) % 5) for i in range(5)], 5), 2**5 - 2),
    "complete of 5": (on_cells([(a, b) for a in range(5) for b in range(a)], 5), factorial(5)),
    "two triangles apart": (on_cells([(0, 1), (1, 2), (0, 2), (3, 4), (4, 5), (3, 5)], 6), 6 * 6),
}


@pytest.mark.parametrize("name", KNOWN)
def test_known_graphs(name: str) -> None:
    graph, expected = KNOWN[name]
    assert by_chromatic_polynomial(graph) == expected
    found = list(orientations(graph))
    assert len(found) == len({turned(graph, order) for order in found}) == expected


@pytest.mark.parametrize("seed", range(30))
def test_random_graphs(seed: int) -> None:
    rng = random.Random(seed)
    nodes = rng.randint(2, 7)
    pairs = [(a, b) for a in range(nodes) for b in range(a)]
    graph = on_cells(rng.sample(pairs, rng.randint(0, min(len(pairs), 13))), nodes)
    found = list(orientations(graph))
    assert len(found) == by_chromatic_polynomial(graph)
    assert {turned(graph, order) for order in found} == {turned(graph, order) for order in permutations(graph.nodes)}
    assert len({turned(graph, order) for order in found}) == len(found)


def exchange_graphs() -> dict[str, nx.Graph[Cell]]:
    layouts = {path.stem: load_layout(path) for path in sorted(PLANS.glob("*.plan"))}
    layouts |= {f"burst row of {n}": burst_row_layout(n) for n in (2, 3, 4)}
    few = {name: layout for name, layout in layouts.items() if not name.startswith("gated")}  # theirs are too many
    return {name: exchange_graph(layout, ends(layout)) for name, layout in few.items()}


def ends(layout: Layout) -> frozenset[Cell]:
    outputs = {cell for stream in layout.streams for cell in stream.outputs}
    return frozenset(cell for cell in outputs if isinstance(layout.by_cell[cell], (Bin, Furnace)))


EXCHANGE_GRAPHS = exchange_graphs()


@pytest.mark.parametrize("name", EXCHANGE_GRAPHS)
def test_orders_of_a_layout_are_as_many_as_the_polynomial_says(name: str) -> None:
    graph = EXCHANGE_GRAPHS[name]
    found = list(orientations(graph))
    expected = by_chromatic_polynomial(graph)
    assert len(found) == expected
    assert len({turned(graph, order) for order in found}) == expected
    assert all(sorted(order) == sorted(graph.nodes) for order in found)
