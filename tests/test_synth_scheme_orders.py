"""The burst row's delay windows hold for any update order: every one that can matter, on ideal locks.

Two machines whose turns touch no container in common can take them in either order. So the orders that differ are the
acyclic orientations of the graph that joins those which do: a T touches itself and the T after it, a B itself and the T
above it. That makes a chain of triangles T(i-1), Ti, Bi; by hand its chromatic polynomial is k ((k - 1)(k - 2))^N, so
there are 6^N orders (Stanley 1973: its value at -1, up to sign). Furnaces without fuel never act.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import networkx as nx
import pytest

from sim.world.geometry import Cell
from sim.world.rulebook import default_rules
from synth.schemes.burst_row import head_window, tail_window
from test_synth_scheme import _run

RULES = default_rules()


def exchange_graph(outputs: int) -> nx.Graph[Cell]:
    """Who touches a container in common in a straight row T0..TN with B1..BN."""
    graph: nx.Graph[Cell] = nx.Graph()
    for i in range(1, outputs + 1):
        nx.add_cycle(graph, [(i - 1, 0, 2), (i, 0, 2), (i, 0, 1)])
    return graph


def orders_that_differ(outputs: int) -> Iterator[list[Cell]]:
    """One update order for each acyclic orientation of the exchange graph, the furnaces last."""
    edges = sorted(exchange_graph(outputs).edges)
    for turned in product((False, True), repeat=len(edges)):
        directed = nx.DiGraph((b, a) if flip else (a, b) for (a, b), flip in zip(edges, turned, strict=True))
        if nx.is_directed_acyclic_graph(directed):
            furnaces = [(i, 0, 0) for i in range(1, outputs + 1)]
            yield [*nx.lexicographical_topological_sort(directed), *furnaces]


@pytest.mark.parametrize("outputs", [1, 2, 3])
def test_the_orders_that_differ_are_as_many_as_the_chromatic_polynomial_says(outputs: int) -> None:
    assert len({tuple(order) for order in orders_that_differ(outputs)}) == 6**outputs


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
