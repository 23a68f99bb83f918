"""Update orders and file orders: which pairs of machines matter, held against runs of the readable simulator."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cache
from itertools import permutations

import networkx as nx
import pytest

from emptying import emptied_outputs
from sim.analysis.assure import all_orders
from sim.analysis.assure.all_orders import every_arrival_in_every_order
from sim.analysis.assure.orders import exchange_graph, orientations
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import Subject
from sim.analysis.assure.verdict import Verdict
from sim.world.case_file import Case, case_layout
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, step
from sim.world.layout import Layout
from sim.world.parts import Node, SignalPart
from sim.world.rulebook import default_rules
from test_assure_arrivals import KILN, Searched
from test_assure_load import (
    FULL_FIRST,
    RESTLESS,
    RESULTS,
    TWO_STREAMS,
    Emptied,
    Pattern,
    asked,
    at_once,
    brimmed,
    comes_to_what_it_says,
    plan,
    reference,
    replayed,
    with_handover,
)
from worlds import drawn

RACE_OF_GAUGES = drawn(
    ". nW gE - . . . ; . . . r1S . . . ; . nW gE r1E # nE B / . B . . . . . ; . . . . . . . ; . B . . . B . / "
    ". . . . . . . ; . . . . . . . ; B . . . . . .",
    "order 1,0,0 1,2,0\nstream north clay from 1,2,1 to 1,2,0\nstream south clay from 1,0,1 to 1,0,0\n"
    "stream feed clay from 5,0,1 to 6,0,0 0,0,2",
)
"""Two nodes that have nothing to do with each other, each read by a gauge; the northern one's relay latches the
southern one's, which locks a third node. Whose gauge is scheduled first decides whether the lock ever comes."""

LAYOUTS: dict[str, Layout] = {
    "two": plan("burst-row-of-two"),
    "three": plan("burst-row-of-three"),
    "three, one relay more": plan("burst-row-of-three-one-relay-more"),
    "unlocked": plan("row-of-three-unlocked"),
    "no drain": plan("row-of-three-no-drain"),
    "two, smallest": load_layout(RESULTS / "two-kilns-smallest.plan"),
    "three, smallest": load_layout(RESULTS / "three-kilns-smallest.plan"),
    "brimmed": brimmed(),
    "brimmed from nothing": brimmed(""),
    "full first": FULL_FIRST,
    "two streams": TWO_STREAMS,
    "kiln": KILN,
    "race of gauges": RACE_OF_GAUGES,
}
Turned = frozenset[tuple[Cell, Cell]]


def turned(graph: nx.Graph[Cell], order: Sequence[Cell]) -> Turned:
    """The orientation that an order stands for: of each edge the earlier end first."""
    at = {cell: i for i, cell in enumerate(order)}
    return frozenset((a, b) if at[a] < at[b] else (b, a) for a, b in graph.edges)


def graph_of(layout: Layout) -> nx.Graph[Cell]:
    return exchange_graph(layout, emptied_outputs(layout))


def whole(layout: Layout, order: Sequence[Cell]) -> tuple[Cell, ...]:
    """An update order of the graph's machines, the machines that never act behind them."""
    return (*order, *(part.at for part in layout.machines if part.at not in order))


def patterns(layout: Layout, seed: object, number: int) -> list[Pattern]:
    """Loads at once, and items by chance; so few that no output fills up."""
    rng = random.Random(f"{seed}")
    found: list[Pattern] = [at_once(layout, count) for count in (1, 2, 3, 7)]
    for _ in range(number):
        tick, pattern = 0, []
        for _ in range(rng.randint(1, 6)):
            pattern.append((tick, rng.randrange(len(layout.streams)), rng.choice((1, 1, 2))))
            tick += rng.choice((0, 1, rng.randint(2, 25), rng.randint(2, 25)))
        found.append(sorted(pattern))
    return found


def behaviour(layout: Layout, order: Sequence[Cell], pattern: Pattern) -> tuple[object, ...]:
    """What a run comes to, down to the state that it rests in."""
    run = Emptied(layout, whole(layout, order))
    came = run.run(pattern)
    tallies = [(one.first_arrival, one.last_arrival) for one in run.trial.tallies.values()]
    return came, tallies, run.trial.world.fingerprint() if came.rested else None


# -- one order for each orientation -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name in LAYOUTS if name != "three, one relay more"])
@pytest.mark.parametrize("handover", [7, 8])
def test_orders_that_agree_on_the_edges_run_alike(name: str, handover: int) -> None:
    """Any permutation against the one order that stands for it: the graph has every edge that matters."""
    layout = with_handover(LAYOUTS[name], handover)
    graph, rng = graph_of(layout), random.Random(f"{name} {handover}")
    stands_for = {turned(graph, order): order for order in orientations(graph)}
    machines, other = [part.at for part in layout.machines], 0
    for pattern in patterns(layout, name, 8):
        order = rng.sample(machines, len(machines))
        representative = stands_for[turned(graph, order)]
        other += tuple(order) != whole(layout, representative)
        assert behaviour(layout, order, pattern) == behaviour(layout, representative, pattern), (order, pattern)
    assert other or nx.density(graph) == 1 or len(graph) < 3


@pytest.mark.parametrize("name", LAYOUTS)
def test_one_order_for_each_acyclic_orientation(name: str) -> None:
    """As many as the chromatic polynomial at -1 has it (Stanley 1973); consistent, and no two the same."""
    graph = graph_of(LAYOUTS[name])
    found = list(orientations(graph))
    polynomial = nx.chromatic_polynomial(graph)
    assert len(found) == abs(int(polynomial.subs(dict.fromkeys(polynomial.free_symbols, -1))))
    assert len({turned(graph, order) for order in found}) == len(found)
    assert all(sorted(order) == sorted(graph.nodes) for order in found)


def without(graph: nx.Graph[Cell], edges: Iterable[tuple[Cell, Cell]]) -> nx.Graph[Cell]:
    less = graph.copy()
    less.remove_edges_from(edges)
    return less


TRIALS: list[Pattern] = [
    *([(0, 0, count)] for count in (1, 2, 3, 4, 7)),
    *([(0, 0, 1), (gap, 0, 1), (2 * gap + 1, 0, 2)] for gap in (1, 4, 8, 9, 15, 20)),
]
SIDE_BY_SIDE: list[Pattern] = [[(0, 0, 2), (0, 1, 2)], [(0, 0, 3), (0, 1, 3)], [(0, 0, 2), (0, 1, 2), (0, 2, 2)]]
"""Of the first stream alone; of several."""


def matter(layout: Layout, edges: Iterable[tuple[Cell, Cell]]) -> bool:
    """Without these edges, orders that would be taken for the same come to different things in some trial."""
    graph = graph_of(layout)
    less = without(graph, edges)
    alike: dict[tuple[Turned, int], tuple[object, ...]] = {}
    trials = [*TRIALS, *(one for one in SIDE_BY_SIDE if len(one) == len(layout.streams))]
    for order in orientations(graph):
        for number, pattern in enumerate(trials):
            seen = behaviour(layout, order, pattern)
            if alike.setdefault((turned(less, order), number), seen) != seen:
                return True
    return False


def sharing(layout: Layout, how: str) -> list[tuple[Cell, Cell]]:
    """Pairs of nodes: ``pull``: the one pulls out of the other; ``push``: the one pushes into the other; ``common``:
    the one pushes into what the other pulls from."""
    nodes = [part for part in layout.parts if isinstance(part, Node)]
    tests = {
        "pull": lambda one, other: step(one.at, "U") == other.at,
        "push": lambda one, other: step(one.at, one.outlet) == other.at,
        "common": lambda one, other: step(one.at, one.outlet) == step(other.at, "U"),
    }
    return [(one.at, other.at) for one in nodes for other in nodes if one != other and tests[how](one, other)]


@pytest.mark.parametrize(
    ("name", "handover", "how"),
    [
        ("three", 7, "common"),
        ("brimmed", 8, "common"),
        ("unlocked", 8, "common"),
        ("two streams", 7, "push"),
        ("brimmed from nothing", 8, "push"),
    ],
)
def test_edges_that_matter(name: str, handover: int, how: str) -> None:
    layout = with_handover(LAYOUTS[name], handover)
    edges = [pair for pair in sharing(layout, how) if set(pair) <= set(graph_of(layout))]
    assert edges
    assert all(graph_of(layout).has_edge(*edge) for edge in edges)
    assert matter(layout, edges)
    assert not matter(layout, [])


def test_edges_between_nodes_whose_gauges_meet_matter() -> None:
    """The two have no container in common; the order of their turns decides a latch."""
    graph = graph_of(RACE_OF_GAUGES)
    north, south = (1, 2, 0), (1, 0, 0)
    assert graph.has_edge(north, south)
    assert matter(RACE_OF_GAUGES, [(north, south)])
    assert len(list(orientations(graph))) == 2 ** graph.number_of_edges()


def test_every_edge_has_a_reason() -> None:
    """Two machines that neither touch a container in common nor are read by gauges that meet have no edge."""
    far_apart = drawn(
        "nE B . nE B / B . . B .", "stream west clay from 0,0,1 to 1,0,0\nstream east clay from 3,0,1 to 4,0,0"
    )
    assert graph_of(far_apart).number_of_edges() == 0
    assert len(graph_of(far_apart)) == 2
    assert graph_of(plan("row-of-three-unlocked")).number_of_edges() == 7
    assert len(graph_of(plan("row-of-three-unlocked"))) == 6, "the last node of the row never moves anything"


# -- verdicts ---------------------------------------------------------------------------------------------------------


def loads_in_turn(layout: Layout, order: Sequence[Cell], counts: Sequence[int]) -> bool:
    """Even after each of the loads, put in at rest when every cooldown is over."""
    run = Emptied(layout, order)
    for count in counts:
        if run.run(at_once(layout, count)).is_uneven:
            return False
        run.cool_down()
    return True


KEPT_BACK = {"brimmed from nothing": 3}
"""Rounds of the first load of which something comes out, by hand: its nodes fill up first."""


@cache
def verdicts(name: str, handover: int) -> tuple[Verdict, ...]:
    return tuple(asked(LAYOUTS[name], "orders", handover))


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("handover", [7, 8])
def test_verdicts_on_loads_are_those_of_every_order_in_the_simulator(name: str, handover: int) -> None:
    """Each orientation's order where there are few of them, else a sample; and permutations by chance."""
    layout, rng = with_handover(LAYOUTS[name], handover), random.Random(name)
    verdict = verdicts(name, handover)[0]
    orders = list(orientations(graph_of(layout)))
    n = Subject(layout, default_rules(), handover).per_round
    first = KEPT_BACK.get(name, 1) * n
    assert f"loads of {first} then {2 * n} items" in verdict.scope
    if verdict.verdict == "proved":
        assert verdict.cases == len(orders)
        machines = [part.at for part in layout.machines]
        sample = [*rng.sample(orders, min(len(orders), 15)), *(rng.sample(machines, len(machines)) for _ in range(6))]
        assert all(loads_in_turn(layout, whole(layout, order), (first, 2 * n)) for order in sample)
    elif name != "restless":
        assert verdict.verdict == "refuted"
        even = [loads_in_turn(layout, whole(layout, order), (first, 2 * n)) for order in orders]
        assert even.index(False) == verdict.cases - 1
        comes_to_what_it_says(LAYOUTS[name], verdict)


def test_some_are_proved_and_some_refuted() -> None:
    found = {name: verdicts(name, 8)[0].verdict for name in LAYOUTS}
    assert {name for name, one in found.items() if one == "refuted"} == {"unlocked", "full first", "race of gauges"}
    assert set(found.values()) == {"proved", "refuted"}


def test_uneven_after_the_first_load_alone() -> None:
    """2 / 0 after two items, 3 / 3 after four more: that is not even."""
    for verdict in verdicts("full first", 8)[:2]:
        assert verdict.verdict == "refuted"
        assert verdict.counterexample is not None
        assert verdict.counterexample.delivered == (2, 0)


def test_an_order_that_decides() -> None:
    """Even in the file order (the lock comes, nothing is delivered), uneven in the other one; the case says which."""
    verdict = verdicts("race of gauges", 8)[0]
    assert reference(RACE_OF_GAUGES, at_once(RACE_OF_GAUGES, 2)).delivered[2] == (0, 0)
    assert verdict.counterexample is not None
    order = verdict.counterexample.case.order
    assert order is not None
    assert order.index((1, 2, 0)) < order.index((1, 0, 0))
    assert verdict.counterexample.delivered == (2, 0)


@pytest.mark.parametrize("handover", [7, 60])
def test_a_second_load_is_put_in_when_cooldowns_are_over(handover: int) -> None:
    """Even after two items, uneven after four more; the case says when these come, under long handovers too."""
    layout = drawn(
        "nN . / nE nN / B .",
        "item tile stack 9\nrule node_slots 1\nholds 0,0,0 tile 8\nstream feed tile from 0,0,2 to 0,0,0 1,0,1",
    )
    verdict = asked(layout, "orders", handover)[0]
    assert verdict.verdict == "refuted"
    comes_to_what_it_says(layout, verdict)
    assert verdict.counterexample is not None
    assert [one.count for one in verdict.counterexample.case.arrivals] == [2, 4]
    run = Emptied(with_handover(layout, handover), verdict.counterexample.case.order)
    run.run(at_once(layout, 2))
    assert verdict.counterexample.case.arrivals[1].tick >= run.cool_down()


@pytest.mark.parametrize("workers", [1, 2])
def test_blocks_by_several_workers_come_to_the_same(monkeypatch: pytest.MonkeyPatch, workers: int) -> None:
    monkeypatch.setattr("sim.analysis.assure.orders.ORDERS_AT_ONCE", 7)
    subject = Subject(LAYOUTS["three"], default_rules(), 8)
    (verdict,) = all_orders.every_order(subject, Request(workers=workers))
    assert (verdict.verdict, verdict.cases) == ("proved", len(list(orientations(graph_of(LAYOUTS["three"])))))
    (refuted,) = all_orders.every_order(Subject(RACE_OF_GAUGES, default_rules(), 8), Request(workers=workers))
    assert (refuted.verdict, refuted.cases) == ("refuted", verdicts("race of gauges", 8)[0].cases)


def test_no_time_no_orders(monkeypatch: pytest.MonkeyPatch) -> None:
    for verdict in asked(LAYOUTS["three"], "orders", limit_s=0):
        assert (verdict.verdict, verdict.cases) == ("open", 0)
    monkeypatch.setattr("sim.analysis.assure.orders.ORDERS_AT_ONCE", 10)
    looks = iter([False] * 4)
    with monkeypatch.context() as patched:
        patched.setattr(Request, "is_over", lambda self: next(looks, True))
        (verdict,) = all_orders.every_order(Subject(LAYOUTS["three"], default_rules(), 8), Request(workers=1))
    assert verdict.verdict == "open"
    assert 0 < verdict.cases <= 40
    assert f"{verdict.cases} orders" in verdict.text


# -- every arrival in every order -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["brimmed", "brimmed from nothing", "kiln"])
def test_every_arrival_in_every_order(name: str) -> None:
    """The states of all orders together, by the search in the simulator."""
    layout = LAYOUTS[name]
    verdict = verdicts(name, 8)[-1]
    graph = graph_of(layout)
    cut = random.Random(3).sample(list(orientations(graph)), 3)
    assert verdict.verdict == "proved"
    assert verdict.scope.startswith("every pattern of arrivals in every update order that can matter")
    assert verdict.cases == len(list(orientations(graph)))
    for order in cut:
        search = SearchedIn(layout, order)
        assert search.uneven == search.never_rest() == []


class SearchedIn(Searched):
    """The search in the simulator, in another update order: that of the machines in the file."""

    def __init__(self, layout: Layout, order: Sequence[Cell]) -> None:
        machines = iter([layout.by_cell[cell] for cell in whole(layout, order)])
        acting = {part.at for part in layout.machines}
        super().__init__(
            replace(layout, parts=tuple(next(machines) if part.at in acting else part for part in layout.parts))
        )


def test_the_states_of_all_orders_together() -> None:
    layout = LAYOUTS["brimmed"]
    states = sum(len(SearchedIn(layout, order).worlds) for order in orientations(graph_of(layout)))
    (verdict,) = every_arrival_in_every_order(Subject(layout, default_rules(), 8), Request(), 100)
    assert (verdict.verdict, verdict.states) == ("proved", states)


def test_an_arrival_that_is_uneven_in_some_order() -> None:
    """Asked of builds that are uneven: the case holds the order and the arrivals."""
    for name in ("two", "race of gauges"):
        (verdict,) = every_arrival_in_every_order(Subject(LAYOUTS[name], default_rules(), 8), Request(), 100)
        assert verdict.verdict == "refuted"
        comes_to_what_it_says(LAYOUTS[name], verdict)
        assert verdict.counterexample is not None
        assert verdict.counterexample.case.order is not None


def test_no_memory_no_proof() -> None:
    subject = Subject(plan("row-of-three-locked"), default_rules(), 8)
    (verdict,) = every_arrival_in_every_order(subject, Request(), 3)
    assert (verdict.verdict, verdict.cases) == ("open", 0)


# -- file orders of signal parts --------------------------------------------------------------------------------------

TIED = drawn(
    ". . . - - . . . ; . . . - r1S . . . ; . nW gE - r1E # nE B / . . . . . . . . ; . . . . . . . . ; "
    ". B . . . . B . / . . . . . . . . ; . . . . . . . . ; B . . . . . . .",
    "item clay stack 1\nrule node_slots 1\norder 4,0,0 4,1,0\nstream west clay from 1,0,1 to 1,0,0\n"
    "stream feed clay from 6,0,1 to 7,0,0 0,0,2",
)
"""One gauge, two relays with one delay: in the file order the one that locks comes on before the other latches it."""


def test_a_file_order_that_decides() -> None:
    """Brute force: each file order in the simulator."""
    cells = [part.at for part in TIED.parts if isinstance(part, SignalPart)]
    uneven = {
        order for order in permutations(cells)
        if reference(case_layout(TIED, Case(signal_order=order)), at_once(TIED, 2)).is_uneven
    }  # fmt: skip
    assert 0 < len(uneven) < 6
    assert tuple(cells) not in uneven
    verdict = next(one for one in asked(TIED, "orders") if one.scope.startswith("file order"))
    assert verdict.verdict == "refuted"
    assert verdict.counterexample is not None
    assert verdict.counterexample.case.signal_order in uneven
    comes_to_what_it_says(TIED, verdict)


def test_few_signal_parts_have_every_file_order_run() -> None:
    for name, number in (("two", 24), ("brimmed", 6), ("kiln", 1)):
        parts = sum(isinstance(part, SignalPart) for part in LAYOUTS[name].parts)
        verdict = next(one for one in verdicts(name, 8) if one.scope.startswith("file order"))
        assert (verdict.verdict, verdict.cases, verdict.seed) == ("proved", number, None)
        assert len(list(permutations(range(parts)))) == number


def test_many_signal_parts_have_some_file_orders_tried() -> None:
    """Never called proved; those of the seed."""
    layout = load_layout(RESULTS / "three-kilns-smallest.plan")
    assert sum(isinstance(part, SignalPart) for part in layout.parts) > 5
    verdict = next(one for one in asked(layout, "orders", seed=4) if one.scope.startswith("file order"))
    assert (verdict.verdict, verdict.seed) == ("tried", 4)
    assert verdict.cases > 10


def test_a_restless_build_in_any_order() -> None:
    for verdict in asked(RESTLESS, "orders"):
        assert verdict.verdict == "refuted"
        assert verdict.counterexample is not None
        assert any(one.check == "never rests" for one in replayed(RESTLESS, verdict.counterexample).findings)
