"""The scheme's delay windows hold for any update order: every one that can matter, on ideal locks.

Only the relative order of parts that exchange items matters (rulebook section 3: a turn moves items between
neighbours only), so the orders that differ are the acyclic orientations of the exchange graph. The graph of a row is a
tree, which has 2 to the number of edges of them: each orientation of a tree is acyclic (Stanley 1973 gives the number
in general as the chromatic polynomial at -1; for a tree with m edges that is 2^m, up to sign).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import networkx as nx
import pytest

from sim.geometry import Cell
from sim.rulebook import default_rules
from synth.scheme import head_window, tail_window
from test_synth_scheme import _run

RULES = default_rules()


def exchange_graph(outputs: int) -> nx.Graph[Cell]:
    """Who exchanges items with whom in a straight row: T with T, T with B, B with its furnace."""
    graph: nx.Graph[Cell] = nx.Graph()
    for i in range(1, outputs + 1):
        graph.add_edge((i - 1, 0, 2), (i, 0, 2))
        graph.add_edge((i, 0, 2), (i, 0, 1))
        graph.add_edge((i, 0, 1), (i, 0, 0))
    return graph


def orders_that_differ(outputs: int) -> Iterator[list[Cell]]:
    """One update order for each orientation of the exchange graph."""
    edges = sorted(exchange_graph(outputs).edges)
    for turned in product((False, True), repeat=len(edges)):
        directed = nx.DiGraph((b, a) if flip else (a, b) for (a, b), flip in zip(edges, turned, strict=True))
        yield list(nx.lexicographical_topological_sort(directed))


def test_the_exchange_graph_of_a_row_is_a_tree() -> None:
    for outputs in (2, 3, 8):
        graph = exchange_graph(outputs)
        assert nx.is_tree(graph)
        assert graph.number_of_edges() == 3 * outputs
    assert len({tuple(order) for order in orders_that_differ(2)}) == 2**6


@pytest.mark.slow
@pytest.mark.parametrize("handover", [8, 7])
@pytest.mark.parametrize("outputs", [2, 3])
def test_the_windows_hold_for_every_update_order(outputs: int, handover: int) -> None:
    window, most = tail_window(RULES, outputs, handover), head_window(RULES).most
    tails = [delay for delay in range(2, window.most + 1, 2) if delay >= window.least]
    assert tails
    heads = (2, most) if outputs == 3 else range(2, most + 1, 2)
    for order in orders_that_differ(outputs):
        for tail in tails:
            for head in heads:
                assert _run(outputs, handover, head, tail, order, 2, 1), (order, head, tail)


@pytest.mark.slow
@pytest.mark.parametrize(("handover", "tail", "works"), [(8, 8, False), (7, 2, False), (7, 4, True), (8, 6, True)])
def test_just_outside_of_the_window_some_orders_split_unevenly(handover: int, tail: int, works: bool) -> None:
    """So the windows are no narrower than any update order needs: for each bound, the next even delay beyond it, which
    some orders bear and some don't; and the nearest inside."""
    window = tail_window(RULES, 3, handover)
    assert (window.least <= tail <= window.most) == works
    outcomes = {_run(3, handover, 2, tail, order, 2, 1) for order in orders_that_differ(3)}
    assert outcomes == ({True} if works else {True, False})
