"""Verdicts on loads one after another and on gaps, held against the readable simulator by brute force."""

from __future__ import annotations

import random
from itertools import product

import pytest

from emptying import emptied_outputs
from sim.analysis.assure import drift as drift_module
from sim.analysis.assure import gaps as gaps_module
from sim.analysis.assure.replay import outcome_of
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import Subject
from sim.analysis.assure.verdict import Verdict
from sim.world.layout import Layout
from sim.world.rulebook import default_rules
from test_assure_load import (
    FILL_GAUGE,
    LARGE,
    RESTLESS,
    SMALL,
    TWO_STREAMS,
    UNEVEN,
    Came,
    Emptied,
    Pattern,
    asked,
    at_once,
    brimmed,
    comes_to_what_it_says,
    counts_put_in,
    plan,
    reference,
    replayed,
    room_of,
    told,
    with_handover,
)
from worlds import drawn

MORE = {**SMALL, "three": plan("burst-row-of-three"), "restless": RESTLESS}

# -- drift ------------------------------------------------------------------------------------------------------------


def one_after_another(layout: Layout, counts: tuple[int, ...]) -> Came:
    """Loads, each put in at rest when every cooldown is over; what all of them came to together."""
    run, came = Emptied(layout), None
    for count in counts:
        came = run.run(at_once(layout, count))
        if not came.rested:
            return came
        run.cool_down()
    assert came is not None
    return came


def rest_states(layout: Layout, counts: range) -> int | None:
    """States at rest that loads lead to, by search in the reference; None if a load is uneven or a source not empty."""
    apart = emptied_outputs(layout) | {stream.source for stream in layout.streams}
    found: dict[object, tuple[int, ...]] = {}
    todo: list[tuple[int, ...]] = [()]
    while todo:
        before = todo.pop(0)
        for count in counts:
            run = Emptied(layout)
            for one in (*before, count):
                came = run.run(at_once(layout, one))
                run.cool_down()
            world = run.trial.world
            if came.is_uneven or any(world.stores[stream.source].items for stream in layout.streams):
                return None
            out, agenda, _, cooldowns, fires = world.fingerprint()
            contents = tuple((cell, store.slots()) for cell, store in world.stores.items() if cell not in apart)
            ahead = tuple(n - min(shares) for shares in came.delivered for n in shares)
            key = (out, agenda, contents, cooldowns, fires, ahead)
            if key not in found:
                found[key] = (*before, count)
                todo.append(found[key])
    return len(found)


@pytest.mark.parametrize("name", ["brimmed", "brimmed from nothing", "two, small", "no drain, small"])
@pytest.mark.parametrize("handover", [7, 8])
def test_states_at_rest_are_those_of_a_search_in_the_simulator(name: str, handover: int) -> None:
    layout = SMALL[name]
    n = len(layout.streams[0].outputs)
    scopes = (range(n, room_of(layout) + 1, n), range(1, min(room_of(layout), 4 * n) + 1))
    proved = 0
    for verdict, counts in zip(asked(layout, "drift", handover), scopes, strict=True):
        states = rest_states(with_handover(layout, handover), counts)
        assert (verdict.verdict == "proved") == (states is not None)
        if states is not None:
            assert verdict.states == states
            proved += 1
    assert proved


@pytest.mark.parametrize("handover", [7, 8])
def test_what_is_proved_holds_for_random_sequences(handover: int) -> None:
    rng = random.Random(handover)
    for name in ("brimmed", "brimmed from nothing"):
        layout = with_handover(SMALL[name], handover)
        assert all(verdict.verdict == "proved" for verdict in asked(layout, "drift", handover))
        for _ in range(15):
            assert not one_after_another(layout, tuple(rng.randint(1, 8) for _ in range(6))).is_uneven


REFUTED = {
    "two, small": SMALL["two, small"],
    "no drain, small": SMALL["no drain, small"],
    "full first": SMALL["full first"],
    "three": MORE["three"],
    "unlocked": UNEVEN["unlocked"],
}


@pytest.mark.parametrize("name", REFUTED)
@pytest.mark.parametrize("handover", [7, 8])
def test_no_shorter_sequence_of_loads_is_uneven(name: str, handover: int) -> None:
    """As many loads as are told, one less, and of as many all that come before in the order in which they are tried."""
    layout = REFUTED[name]
    given = with_handover(layout, handover)
    verdict = asked(layout, "drift", handover)[1]
    assert verdict.verdict == "refuted"
    loads = tuple(counts_put_in(verdict))
    came = one_after_another(given, loads)
    assert came.is_uneven
    assert " / ".join(map(str, came.delivered[0])) in verdict.text
    most = min(room_of(layout), 4 * len(layout.streams[0].outputs))
    for shorter in range(1, len(loads)):
        for counts in product(range(1, most + 1), repeat=shorter):
            assert not one_after_another(given, counts).is_uneven, counts


@pytest.mark.parametrize("name", ["two, small", "three", "unlocked", "full first", "restless"])
def test_uneven_sequences_are_run_again(name: str) -> None:
    layout = UNEVEN.get(name) or MORE[name]
    for verdict in asked(layout, "drift", 8, 7):
        if verdict.verdict == "refuted":
            result = comes_to_what_it_says(layout, verdict)
            assert result.at_rest or "never" in verdict.text


def test_what_stays_in_a_source_is_not_forgotten() -> None:
    """Eight and then six items come to 5 / 0: the source's node waits until the source holds ten."""
    assert one_after_another(FILL_GAUGE, (8, 6)).delivered == ((5, 0),)
    for verdict in asked(FILL_GAUGE, "drift"):
        assert verdict.verdict != "proved"


def test_too_many_signal_states_prove_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows tell of signals by numbers, which hold only until the memory is full."""
    layout = SMALL["brimmed from nothing"]
    assert asked(layout, "drift")[1].verdict == "proved"
    workspace = drift_module.Workspace
    monkeypatch.setattr(drift_module, "Workspace", lambda tables, states=0: workspace(tables, 8))
    for verdict in asked(layout, "drift"):
        assert verdict.verdict == "open"


def test_no_time_no_proof_of_sequences() -> None:
    for verdict in [*asked(LARGE["two"], "drift", limit_s=0), *asked(LARGE["two"], "gaps", limit_s=0)]:
        assert (verdict.verdict, verdict.cases) == ("open", 0)
        assert "time was up" in verdict.text


# -- gaps -------------------------------------------------------------------------------------------------------------


def with_gap(layout: Layout, gap: int, items: int) -> Pattern:
    return [(i * gap, k, 1) for i in range(items) for k in range(len(layout.streams))]


def fixed(layout: Layout, handover: int) -> Verdict:
    return asked(layout, "gaps", handover)[0]


@pytest.mark.parametrize("name", ["two, small", "three, tiny", "no drain, small", "unlocked", "full first", "three"])
@pytest.mark.parametrize("handover", [7, 8])
def test_no_smaller_gap_and_no_fewer_items_are_uneven(name: str, handover: int) -> None:
    layout = UNEVEN.get(name) or MORE[name]
    given = with_handover(layout, handover)
    verdict = fixed(layout, handover)
    assert verdict.verdict == "refuted"
    assert verdict.counterexample is not None
    case = verdict.counterexample.case
    items, gap = len(case.arrivals), case.arrivals[1].tick
    pattern = with_gap(given, gap, items)
    assert [(one.tick, one.count) for one in case.arrivals] == [(tick, count) for tick, _, count in pattern]
    came = reference(given, pattern)
    assert came.is_uneven
    assert " / ".join(map(str, came.delivered[0])) in verdict.text
    n = len(layout.streams[0].outputs)
    most = n * max(1, min(18, room_of(layout) // n))
    for smaller in range(1, gap + 1):
        for fewer in range(n, items if smaller == gap else most + 1, n):
            assert not reference(given, with_gap(given, smaller, fewer)).is_uneven, (smaller, fewer)


@pytest.mark.parametrize("name", ["brimmed", "brimmed from nothing"])
@pytest.mark.parametrize("handover", [7, 8])
def test_what_is_proved_of_every_gap(name: str, handover: int) -> None:
    """All gaps up to the one from which on items come to rest alone; from there on nothing changes any more."""
    layout = with_handover(SMALL[name], handover)
    verdict = fixed(layout, handover)
    assert verdict.verdict == "proved"
    last = verdict.cases
    assert f"from g = {last} on" in verdict.text
    for gap in range(1, last + 4):
        for items in (2, 6, 16):
            assert not reference(layout, with_gap(layout, gap, items)).is_uneven
    assert longest_rest(layout, 36) == last
    alone = one_after_another(layout, (1,) * 16)
    for gap in (last, last + 1, last + 7, 3 * last):
        apart = reference(layout, with_gap(layout, gap, 16))
        assert (apart.delivered, apart.held) == (alone.delivered, alone.held)


def longest_rest(layout: Layout, items: int) -> int:
    """Ticks until an item put in at rest has come to rest and every cooldown is over: the longest of so many."""
    run, longest, before = Emptied(layout), 0, 0
    for _ in range(items):
        run.run(at_once(layout, 1))
        now = run.cool_down()
        longest, before = max(longest, now - before), now
    return longest


@pytest.mark.parametrize("handover", [3, 8, 30, 60])
def test_items_are_not_alone_while_a_locked_node_cools_down(handover: int) -> None:
    """The second node is always locked; the first item that it takes makes it wait for a handover."""
    layout = drawn("nE nE iE # / B . . .", "stream feed clay from 0,0,1 to 1,0,0")
    given = with_handover(layout, handover)
    verdict = fixed(layout, handover)
    assert verdict.verdict == "proved"
    assert longest_rest(given, 18) == verdict.cases
    assert handover < 30 or verdict.cases == 1 + 8 + handover


def random_pattern(rng: random.Random, layout: Layout) -> Pattern:
    """Several items at once, gaps of all lengths, streams by turns."""
    tick, found = rng.choice((0, 0, 5)), []
    for _ in range(rng.randint(1, 8)):
        found.append((tick, rng.randrange(len(layout.streams)), rng.randint(1, 2)))
        tick += rng.choice((0, 1, 3, rng.randint(4, 12), rng.randint(1, 60)))
    return sorted(found)


@pytest.mark.parametrize("name", [name for name in MORE if name != "unlocked"])
@pytest.mark.parametrize("handover", [7, 8])
def test_patterns_come_to_what_the_simulator_says(name: str, handover: int) -> None:
    layout = MORE[name]
    given = with_handover(layout, handover)
    subject = Subject(layout, default_rules(), handover)
    rng = random.Random(f"{name} {handover}")
    for _ in range(12):
        pattern = random_pattern(rng, layout)
        if sum(count for _, _, count in pattern) > room_of(layout):
            continue
        ours, theirs = told(outcome_of(subject, pattern)), reference(given, pattern)
        assert ours.rested == theirs.rested
        assert ours.delivered == theirs.delivered
        assert not ours.rested or ours == theirs, pattern


@pytest.mark.parametrize("name", ["three", "full first", "unlocked"])
def test_random_gaps_are_run_again_and_are_those_of_the_seed(name: str) -> None:
    layout = UNEVEN.get(name) or MORE[name]
    seeds = {}
    for seed in (0, 1):
        verdict, again = (asked(layout, "gaps", seed=seed)[1] for _ in range(2))
        assert verdict.verdict == "refuted"
        assert verdict.seed == seed
        comes_to_what_it_says(layout, verdict)
        assert verdict.counterexample == again.counterexample
        seeds[seed] = verdict.counterexample
    assert name != "three" or seeds[0] != seeds[1]


def test_random_gaps_that_are_all_even_are_tried() -> None:
    """So many, of this seed, and never called proved; a sample of them is run in the simulator."""
    layout, rng = brimmed(), random.Random(5)
    verdict = asked(layout, "gaps", seed=5)[1]
    assert (verdict.verdict, verdict.seed, verdict.counterexample) == ("tried", 5, None)
    assert str(verdict.cases) in verdict.text.replace(",", "")
    subject = Subject(layout, default_rules(), 8)
    sample = [gaps_module._pattern(subject, rng) for _ in range(25)]
    assert len({tuple(pattern) for pattern in sample}) > 15
    for pattern in sample:
        assert pattern == sorted(pattern)
        assert len(pattern) <= 12
        assert not reference(layout, pattern).is_uneven


def test_two_streams_have_their_gaps_side_by_side() -> None:
    for verdict in asked(TWO_STREAMS, "gaps"):
        assert verdict.verdict in ("proved", "tried")


def test_a_restless_build_is_refuted_by_any_gap() -> None:
    fixed_gap, by_chance = asked(RESTLESS, "gaps")
    assert (fixed_gap.verdict, by_chance.verdict) == ("refuted", "refuted")
    assert fixed_gap.counterexample is not None
    result = replayed(RESTLESS, fixed_gap.counterexample)
    assert any(finding.check == "never rests" for finding in result.findings)


def test_a_request_that_is_stopped_is_open() -> None:
    request = Request()
    request.stop.set()
    subject = Subject(LARGE["two"], default_rules(), 8)
    for verdict in [*drift_module.drift(subject, request), *gaps_module.gaps(subject, request)]:
        assert verdict.verdict == "open"


# -- what time alone changes -------------------------------------------------------------------------------------------

ONE_FIRE = drawn(
    "B . . / nD . . / F . B / nD . nD / B . B",
    "rule bin_slots 2\nrule firing 10\nitem clay stack 2 fires-to clay\nitem charcoal stack 64 burn 1000\n"
    "holds 0,0,2 . charcoal 1\nstream west clay from 0,0,4 to 0,0,0 2,0,2\nstream east clay from 2,0,4 to 0,0,0 2,0,2",
)
"""One of two streams has a kiln on its way, with a single piece of charcoal, which burns long enough for any load."""


def test_larger_gaps_are_not_alike_while_a_fire_burns() -> None:
    """Items that come to rest alone long before the fire is out: with gaps longer than that, a single one is fired."""
    assert not reference(ONE_FIRE, with_gap(ONE_FIRE, 60, 4)).is_uneven
    assert reference(ONE_FIRE, with_gap(ONE_FIRE, 1100, 4)).delivered == ((1, 4), (1, 4))
    verdict = fixed(ONE_FIRE, 8)
    assert verdict.verdict == "refuted"
    comes_to_what_it_says(ONE_FIRE, verdict)


def test_loads_are_not_alike_while_a_fire_burns() -> None:
    """A kiln that is given a piece of charcoal with each clay, which burns 12 ticks, or 16, and then on at rest."""
    for burn, answer in ((12, "proved"), (16, "open")):
        layout = drawn(
            ". B . / . nD . / nE F . / B nD . / . B .",
            "rule bin_slots 1\nrule firing 10\nrule period 2\nrule handover 2\nitem clay stack 1 fires-to clay\n"
            f"item charcoal stack 1 burn {burn}\nstream feed clay from 1,0,4 to 1,0,0\n"
            "stream fuel charcoal from 0,0,3 to 1,0,2",
        )
        for verdict in asked(layout, "drift", 2):
            assert (verdict.verdict, "a fire burns on" in verdict.text) == (answer, answer == "open")


STARTS = drawn(
    ". . . . ; F nW . B / . nS nW nW ; nE nE B nD / . . . . ; B . . B*",
    "item charcoal stack 4 burn 1600\nitem tile stack 1\nrule bin_slots 6\nrule node_slots 2\n"
    "holds 3,1,1 tile 1 tile 1\norder 1,0,1 0,0,1 1,1,1 2,1,1 3,1,1 1,0,0 3,0,1 0,0,0\n"
    "stream west charcoal from 3,0,2 to 0,0,0 3,0,0\nstream east charcoal from 0,0,2 to 0,0,0 3,0,0",
)
"""Two tiles on their way at the start: they block the node below the row, unless a load is there before they come."""


def test_a_first_load_that_comes_late() -> None:
    """When what the layout starts with has come to rest: it counts as a load put in at rest."""
    assert reference(STARTS, at_once(STARTS, 2)).delivered == ((2, 2), (2, 2))
    assert reference(STARTS, [(100, k, count) for _, k, count in at_once(STARTS, 2)]).delivered == ((0, 2), (0, 2))
    for verdict in asked(STARTS, "drift"):
        assert verdict.verdict == "refuted"
        assert "once what it starts with has come to rest, 2 items come to 0 / 2" in verdict.text
        comes_to_what_it_says(STARTS, verdict)


# -- what was not asked ------------------------------------------------------------------------------------------------


def test_gaps_that_a_source_has_no_room_for_are_open() -> None:
    """A node brings items into the source, and the node below it is locked: it is full before the last one comes."""
    layout = drawn(
        "B nW iE # / nE B . . / B . . .",
        "rule bin_slots 1\nitem clay stack 4\nholds 0,0,2 clay 4\nstream feed clay from 1,0,1 to 0,0,0",
    )
    verdict = fixed(layout, 8)
    assert verdict.verdict == "open"
    assert "a source has no room" in verdict.text


def test_streams_with_unlike_loads_are_not_in_the_scope() -> None:
    """Each stream fills one of two outputs that they share: even as long as they bring as much, which is said."""
    layout = drawn(
        "B . B / nD . nD / B . B",
        "rule bin_slots 2\nitem clay stack 4\nstream west clay from 0,0,2 to 0,0,0 2,0,0\n"
        "stream east clay from 2,0,2 to 0,0,0 2,0,0",
    )
    assert reference(layout, [(0, 0, 4), (0, 1, 2)]).delivered == ((4, 2), (4, 2))
    for question in ("load", "drift", "gaps", "orders", "handover", "overheating", "arrivals"):
        for verdict in asked(layout, question):
            alike = "as many of every stream" in verdict.scope
            assert alike == (verdict.verdict == "proved"), verdict
            assert alike or verdict.verdict == "refuted"
    assert all("every stream" not in verdict.scope for verdict in asked(LARGE["two"], "load"))


def test_gaps_are_looked_at_after_each_round() -> None:
    """The scope names no other numbers of items."""
    assert "k*2 items, k = 1..18" in fixed(LARGE["two"], 8).scope
