"""Every scheme on ideal locks: inside its windows it splits as it says, in any update order, for what it is even for.

The rows have no signal parts; each lock follows the scheme's own lock table, some ticks late (``ideal_locks``). So
these tests hold the data of a scheme, its table, windows and what it leaves, against the items of the simulator.
"""

from __future__ import annotations

import pickle
import random
from dataclasses import replace
from itertools import product

import pytest

from ideal_locks import (
    RULES,
    Delays,
    drawn_arrivals,
    drawn_order,
    orders_that_differ,
    outcome,
    splits,
    straight_row,
    waiting,
)
from sim.errors import InputError
from sim.world.rulebook import load_rulebook
from synth.ask.spec import Spec, StreamSpec
from synth.schemes.registry import admissible, scheme_named, scheme_of, schemes, why_not
from synth.schemes.scheme import DelayWindow, Nodes, Scheme, Which

NAMES = tuple(schemes())
HANDOVERS = (8, 7)
ROWS = (2, 3, 4)
TRIES = 8
"""Patterns of arrivals and update orders for each pair of delays."""


def windows_of(scheme: Scheme, outputs: int, handover: int) -> dict[str, DelayWindow]:
    """Of every label; what has no window of its own may take as long as a chain."""
    stages = DelayWindow(0, scheme.stages(RULES))
    named = scheme.windows(RULES, outputs, handover)
    return {watch.label: named.get(watch.label, stages) for watch in scheme.watches}


def corners(scheme: Scheme, outputs: int, handover: int) -> list[Delays]:
    """The shortest and the longest even delay of each window that parts can make, in every combination."""
    found = windows_of(scheme, outputs, handover)
    ends = [{max(2, window.least + window.least % 2), window.most // 2 * 2} for window in found.values()]
    return [dict(zip(found, delays, strict=True)) for delays in product(*ends)]


def tried(scheme: Scheme, outputs: int, handover: int, delays: Delays, seed: int, tries: int = TRIES) -> list[str]:
    """What went wrong over some update orders and arrivals; nothing, as it should be."""
    rng, wrong = random.Random(seed), []
    for number in range(tries):
        order = drawn_order(rng, straight_row(scheme, outputs, handover)) if number else None
        streams = "stream" in scheme.even_for
        burst = {0: outputs * rng.choice((1, 2, 3, 7))}
        arrivals = drawn_arrivals(rng, outputs, number % 2 == 0, waiting(scheme, outputs)) if streams else burst
        put = sum(arrivals.values())
        result = outcome(scheme, outputs, handover, delays, arrivals, order)
        if not splits(scheme, outputs, result, put):
            wrong.append(f"{delays} {result} of {put}: {sorted(arrivals.items())[:8]} {order}")
    return wrong


@pytest.mark.parametrize("handover", HANDOVERS)
@pytest.mark.parametrize("outputs", ROWS)
@pytest.mark.parametrize("name", NAMES)
def test_a_scheme_splits_inside_its_windows(name: str, outputs: int, handover: int) -> None:
    scheme = scheme_named(name)
    if outputs < scheme.outputs_least:
        pytest.skip(f"for {scheme.outputs_least} outputs or more")
    for delays in corners(scheme, outputs, handover):
        assert tried(scheme, outputs, handover, delays, outputs) == []


@pytest.mark.parametrize(
    ("name", "outputs", "handover", "delays"),
    [
        ("undrained row", 3, 8, {"tail": 8}),
        ("undrained row", 4, 7, {"tail": 2}),
        ("muster row", 2, 8, {"own": 2, "tail": 8}),
        ("muster row", 3, 7, {"own": 2, "tail": 8}),
        ("muster row", 3, 8, {"own": 10, "tail": 4}),
        ("checked muster row", 3, 8, {"own": 2, "tail": 8}),
        ("checked muster row", 3, 7, {"own": 10, "tail": 4}),
        ("burst row", 3, 8, {"head": 4, "tail": 8}),
        ("gated row", 3, 8, {"gate": 4, "head": 8, "due": 4, "tail": 8}),
        ("gated row", 5, 7, {"gate": 4, "head": 2, "due": 4, "tail": 6}),
        ("gated row", 5, 7, {"gate": 4, "head": 4, "due": 6, "tail": 2}),
    ],
)
def test_just_outside_of_a_window_it_does_not(name: str, outputs: int, handover: int, delays: Delays) -> None:
    """The next even delay beyond each bound that matters: some order or arrival pattern comes out uneven."""
    scheme = scheme_named(name)
    beyond = [
        label for label, window in windows_of(scheme, outputs, handover).items()
        if not window.least <= delays[label] <= window.most
    ]  # fmt: skip
    assert len(beyond) == 1
    assert tried(scheme, outputs, handover, delays, 1, 40) != []


def test_a_long_muster_row_must_not_open_too_soon() -> None:
    """Found by chance: with a handover of 7 and locks that open two ticks after B4 holds, an item slips past B2."""
    scheme = scheme_named("muster row")
    assert scheme.windows(RULES, 4, 7)["tail"] == DelayWindow(3, 6)
    assert scheme.windows(RULES, 3, 7)["tail"] == scheme.windows(RULES, 4, 8)["tail"] == DelayWindow(0, 6)
    nodes = [(2, 0, 1), (2, 0, 2), (3, 0, 2), (4, 0, 1), (4, 0, 2), (3, 0, 1), (1, 0, 2), (1, 0, 1)]
    order = [*nodes, *((i, 0, 0) for i in range(1, 5))]
    arrivals = {0: 4} | dict.fromkeys((42, 48, 56, 62, 64, 80, 88, 94, 96, 101, 105), 1)
    for tail, even in ((2, False), (4, True), (6, True)):
        result = outcome(scheme, 4, 7, {"own": 2, "tail": tail}, arrivals, order)
        assert splits(scheme, 4, result, 15) is even, (tail, result)


@pytest.mark.parametrize("handover", HANDOVERS)
def test_the_brimmed_rows_locks_need_not_open_together(handover: int) -> None:
    """Ways to different locks may differ in length, inside the window."""
    scheme = scheme_named("brimmed row")
    rng = random.Random(handover)
    for _ in range(12):
        arrivals = drawn_arrivals(rng, 3, whole=False)
        later = {("B", i): rng.choice((0, 2, 4)) for i in (1, 2, 3)}
        order = drawn_order(rng, straight_row(scheme, 3, handover))
        result = outcome(scheme, 3, handover, {"brim": 4}, arrivals, order, later)  # type: ignore[arg-type]
        assert splits(scheme, 3, result, sum(arrivals.values())), (arrivals, later)


@pytest.mark.parametrize("name", [name for name in NAMES if "stream" in schemes()[name].even_for])
def test_every_update_order_of_three_for_gaps_of_every_length(name: str) -> None:
    """Acyclic orientations, by hand: six for each triangle of T, the next T and its B, two for each other edge (of T1
    and B1 where no T comes before, of nodes ahead of T0); gaps drawn for each, of a sample where there are many."""
    scheme = scheme_named(name)
    rng, orders = random.Random(name), list(orders_that_differ(scheme, 3))
    assert len({tuple(order) for order in orders}) == (2 * 6**2 if scheme.first == 1 else 2**-scheme.first * 6**3)
    for order, handover in product(rng.sample(orders, min(len(orders), 72)), HANDOVERS):
        arrivals = drawn_arrivals(rng, 3, whole=False, waiting=waiting(scheme, 3))
        delays = rng.choice(corners(scheme, 3, handover))
        result = outcome(scheme, 3, handover, delays, arrivals, order)
        assert splits(scheme, 3, result, sum(arrivals.values())), (order, delays, arrivals)


def test_a_burst_row_is_no_stream_scheme() -> None:
    """Design notes: 18 items, 3 targets, one every 10 ticks come out 5, 9, 4; every 20: 18, 0, 0."""
    scheme = scheme_named("burst row")
    for gap in (10, 20):
        delivered, _ = outcome(scheme, 3, 8, {"head": 4, "tail": 4}, {gap * i: 1 for i in range(18)})
        assert len(set(delivered)) > 1


def test_a_brimmed_row_without_its_filling_is_uneven() -> None:
    """The starting contents are what makes it: an empty row fills up for hundreds of items before anything is even."""
    empty = replace(scheme_named("brimmed row"), brimmed=False)
    delivered, held = outcome(empty, 2, 8, {"brim": 4}, {0: 64})
    assert (delivered, held) == ([0, 0], 64)


# -- the data ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_the_data_of_a_scheme_fit_together(name: str) -> None:
    scheme = scheme_named(name)
    assert {len(row.reads) for row in scheme.table} == {len(scheme.watches)}
    assert {len(row.locked) for row in scheme.table} == {len(scheme.classes)}
    assert sorted(row.reads for row in scheme.table) == sorted(product((False, True), repeat=len(scheme.watches)))
    assert scheme.even_for
    assert (scheme.held(3, RULES, 64) == 0) == (scheme.leaves == "deliver")
    for outputs in (2, 3, 5):
        every = [
            (nodes.role, i) for nodes in scheme.classes for i in scheme.members(nodes, outputs)
        ]
        assert len(set(every)) == len(every), "a node is of one class"
        for handover in HANDOVERS:
            assert set(scheme.windows(RULES, outputs, handover)) <= {watch.label for watch in scheme.watches}
    copy = pickle.loads(pickle.dumps(scheme))
    assert copy == scheme


def test_classes_of_nodes_by_hand() -> None:
    scheme = scheme_named("muster row")
    assert list(scheme.numbers("T", 4)) == list(scheme.numbers("B", 4)) == [1, 2, 3, 4]
    found = {which: list(scheme.members(Nodes("T", which), 4)) for which in Which}
    assert found == {
        Which.EVERY: [1, 2, 3, 4],
        Which.FIRST: [1],
        Which.LAST: [4],
        Which.ALL_BUT_LAST: [1, 2, 3],
        Which.ALL_BUT_FIRST: [2, 3, 4],
        Which.INNER: [2, 3],
        Which.INNER_BUT_ONE: [2],
        Which.SECOND: [2],
        Which.THIRD: [3],
        Which.FROM_THIRD: [3, 4],
        Which.LAST_BUT_ONE: [3],
    }
    assert (scheme_named("burst row").row_length(3), scheme.row_length(3)) == (4, 3)
    assert (scheme_named("burst row").gauges(3), scheme.gauges(3)) == (2, 3)
    assert scheme.words(Nodes("B", Which.ALL_BUT_LAST), 2) == "B1"
    assert scheme.words(Nodes("B", Which.ALL_BUT_LAST), 4) == "B1 to B3"


def test_the_brim_by_hand() -> None:
    """Five slots of 64, the last short of one; of things that stack to one, four slots are full, the fifth empty."""
    scheme = scheme_named("brimmed row")
    assert scheme.start("clay", 64, RULES) == (("clay", 64),) * 4 + (("clay", 63),)
    assert scheme.start("clay", 1, RULES) == (("clay", 1),) * 4
    assert scheme_named("muster row").start("clay", 64, RULES) == ()


# -- which serves -----------------------------------------------------------------------------------------------------


def asked(**more: object) -> Spec:
    stream = StreamSpec("feed", "clay")
    return Spec("", 3, (4, 3, 4), (stream,), load_rulebook(), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("more", "names"),
    [
        ({}, ["burst row", "muster row"]),
        (
            {"leftovers": "hold"},
            ["burst row", "undrained row", "muster row", "brimmed row", "gated row", "headed undrained row"],
        ),
        ({"even_for": "stream"}, ["muster row", "checked muster row"]),
        ({"even_for": "stream", "leftovers": "hold"}, ["muster row", "brimmed row", "gated row", "checked muster row"]),
        ({"scheme": "brimmed row", "even_for": "stream", "leftovers": "hold"}, ["brimmed row"]),
        ({"scheme": "brimmed row"}, []),
    ],
)
def test_the_schemes_that_serve_a_spec(more: dict[str, object], names: list[str]) -> None:
    assert [scheme.name for scheme in admissible(asked(**more))] == names


def test_no_more_may_wait_than_is_asked_for() -> None:
    """A brimmed row of three starts with 3 * 319 clay and may keep 5 more; a gated row keeps 22, a muster row none."""
    held = asked(even_for="stream", leftovers="hold")
    names = {most: [one.name for one in admissible(replace(held, holds_most=most))] for most in (0, 21, 22, 961, 962)}
    assert names[0] == names[21] == ["muster row", "checked muster row"]
    assert names[22] == names[961] == ["muster row", "gated row", "checked muster row"]
    assert names[962] == ["muster row", "brimmed row", "gated row", "checked muster row"]


def test_a_gate_that_can_never_tell_enough() -> None:
    """One level alone: nothing reads 2."""
    spec = asked(even_for="stream", leftovers="hold", overrides={"reach": 1})
    assert why_not(scheme_named("gated row"), spec) == "no node reads enough under these rules"


def test_why_a_scheme_does_not_serve() -> None:
    stream = asked(even_for="stream")
    assert why_not(scheme_named("burst row"), stream) == "it is not even for a stream"
    assert why_not(scheme_named("brimmed row"), stream) == "it leaves items in the nodes"
    assert why_not(scheme_named("muster row"), replace(stream, outputs=1)) == "it is for 2 outputs or more"
    assert why_not(scheme_named("muster row"), stream) is None


def test_no_scheme_serves_one_target() -> None:
    with pytest.raises(InputError, match="no scheme serves"):
        scheme_of(replace(asked(even_for="stream"), outputs=1))


def test_a_scheme_that_there_is_not() -> None:
    with pytest.raises(InputError, match=r'no scheme is called "mustard row"; did you mean "muster row"\?'):
        scheme_named("mustard row")
