"""All schemes in one search: who has a turn, what is merged, what a spec's demands do; and trials with gaps."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from threading import Event
from types import SimpleNamespace
from typing import Any

import pytest

from commands import faults
from faults import fault_of
from sim.errors import InputError
from sim.world.files.reading import load_layout
from sim.world.trial import Arrival, run_trial
from synth.ask.arrivals import DRAWN, GAPS, drawn, fixed, patterns
from synth.ask.spec import Demands, Spec
from synth.confirm.confirmation import confirm, terms_of
from synth.confirm.judge import Judge
from synth.confirm.measures import TRICKLING, rank_key
from synth.confirm.proposal import Proposal
from synth.confirm.trials import Terms
from synth.read.spec_file import load_spec, spec_from_toml
from synth.schemes.registry import schemes
from synth.search.merging import merged
from synth.search.one_scheme import Search
from synth.search.race import _Race, propose, tighter
from synth.search.request import Request
from synth.search.result import Answer, Claim, Step
from synth.search.scope import needed_handovers, required_handovers

REPOSITORY = Path(__file__).resolve().parent.parent
SPECS = REPOSITORY / "specs"
BOTH = (8, 7)
TWO = load_spec(SPECS / "two-kilns.toml")
BURST = load_layout(SPECS / "results" / "two-kilns-smallest.plan")


# -- demands of a spec ------------------------------------------------------------------------------------------------

PLAIN = '[split]\noutputs = 3\n{more}\n[site]\nsize = [4, 3, 4]\n[streams.feed]\nitem = "clay"\n'


def read(more: str) -> Spec:
    return spec_from_toml(PLAIN.format(more=more))


def test_what_a_spec_demands_is_read() -> None:
    assert read("").demands == Demands("file", "in force", "tried", None)
    assert read("").scheme is None
    every = 'even_for = "stream"\norders = "all"\nhandover = "both"\narrivals = "all"\nthroughput = 8000\n'
    spec = read(every + 'scheme = "muster row"')
    assert spec.demands == Demands("all", "both", "all", 8000)
    assert spec.scheme == "muster row"


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ('scheme = "mustard row"', 'split.scheme: no scheme is called "mustard row"; did you mean "muster row"?'),
        (
            'scheme = "burst row"\neven_for = "stream"',
            'split.scheme: "burst row" does not serve: it is not even for a stream; name another, or none',
        ),
        (
            'scheme = "brimmed row"',
            'split.scheme: "brimmed row" does not serve: it leaves items in the nodes; name another, or none',
        ),
        ('orders = "some"', 'split.orders: must be file or all, not "some"'),
        ('handover = "7"', 'split.handover: must be in force or both, not "7"'),
        ('arrivals = "any"', 'split.arrivals: must be tried or all, not "any"'),
        (
            'arrivals = "all"',
            'split.arrivals: "all" is more than even_for = "burst" asks; say even_for = "stream"',
        ),
        ("throughput = 0", "split.throughput: must be a whole number from 1 to 1000000, not 0"),
        ("throughput = 9001", "split.throughput: is more than one node passes: at most 9000 items an hour"),
        ('sheme = "muster row"', 'split.sheme: unknown key; did you mean "scheme"?'),
    ],
)
def test_bad_demands(more: str, told: str) -> None:
    assert fault_of(lambda: read(more)) == told


def test_both_handovers_on_demand() -> None:
    """Where no delay serves both, the handover in force is enough, unless the spec says otherwise."""
    long = replace(TWO, outputs=8, scheme="burst row")
    assert needed_handovers(long) == required_handovers(long) == (8,)
    demanding = replace(long, demands=Demands(handover="both"))
    assert needed_handovers(demanding) == required_handovers(demanding) == BOTH


# -- trials with gaps -------------------------------------------------------------------------------------------------


def test_the_patterns_by_hand() -> None:
    assert fixed(3, 4).ticks == (0, 3, 6, 9)
    every = patterns(8)
    assert len(every) == len(GAPS) + DRAWN
    assert {len(one.ticks) for one in every} == {8}
    assert all(list(one.ticks) == sorted(one.ticks) and one.ticks[0] == 0 for one in every)
    assert len({one.ticks for one in every}) == len(every)
    assert drawn(5, 8) == drawn(5, 8)


def test_a_burst_row_does_not_pass_where_items_trickle() -> None:
    rules = TWO.rules
    assert confirm(BURST, rules, needed=BOTH).handovers == BOTH
    refused = confirm(BURST, rules, needed=BOTH, terms=Terms(0, trickles=True))
    assert refused.handovers == ()
    (failed,) = [record for record in refused.records if not record.passed]
    assert failed.pattern
    assert refused.first_failure(8) is failed


def test_what_may_be_held_is_what_the_scheme_says() -> None:
    """Fact 3 of the rulebook: a row without a drain keeps one item in each B."""
    layout = load_layout(SPECS / "layouts" / "row-of-three-no-drain.plan")
    rules = TWO.rules
    assert confirm(layout, rules, needed=(8,)).handovers == ()
    assert 8 in confirm(layout, rules, needed=(8,), terms=Terms(held_most=3)).handovers
    assert confirm(layout, rules, needed=(8,), terms=Terms(held_most=2)).handovers == ()


def test_the_terms_of_a_spec() -> None:
    assert terms_of(TWO) == Terms(0, trickles=False)
    assert terms_of(load_spec(SPECS / "three-kilns-stream.toml")) == Terms(0, trickles=True)
    held = replace(load_spec(SPECS / "two-kilns-stream-held.toml"), scheme="brimmed row")
    assert terms_of(held) == Terms(3, trickles=True)


def test_a_flow_that_is_too_slow_is_refused() -> None:
    spec = replace(TWO, scheme="burst row")
    steady = Judge(spec, BOTH).as_it_is(BURST).measures.steady
    assert 0 < steady <= 9000
    for least, accepted in ((int(steady) - 100, True), (int(steady) + 1, False)):
        judge = Judge(replace(spec, demands=Demands(throughput=least)), BOTH)
        assert judge.accepts(BURST) is accepted
        if not accepted:
            assert not judge.refused_by_finding(BURST), "the flow depends on the locks alone"


# -- turns ------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def two() -> Answer:
    """All schemes for two kilns and a cartload."""
    return propose(replace(TWO, size=(4, 2, 4)), Request(2, 240.0, 2))


@pytest.mark.slow
def test_the_schemes_of_a_burst_are_ranked_together(two: Answer) -> None:
    """The muster row needs 18 parts in 4 x 2 x 4, the burst row 21 (docs/results.md)."""
    assert two.complete
    assert two.schemes == ("burst row", "muster row")
    best = two.proposals[0]
    assert (best.scheme, best.measures.volume, best.measures.parts) == ("muster row", 32, 18)
    steps = [(step.measure, step.value, step.proved) for step in two.steps]
    assert steps == [("volume", 32, True), ("parts", 18, True), ("latency", best.measures.latency, True)]
    assert {claim.scheme for claim in two.claims} == set(two.schemes)
    assert any("scheme: muster row" in sentence for sentence in two.scope)
    assert any("scheme: burst row" in sentence for sentence in two.scope)


@pytest.mark.slow
def test_no_box_of_fewer_cells_serves_any_scheme(two: Answer) -> None:
    assert two.rules_out((3, 2, 4), BOTH)
    assert not two.rules_out((4, 2, 4), BOTH)


@pytest.mark.slow
def test_two_kilns_for_streams_are_even_beyond_what_was_tried() -> None:
    """Other gaps, longer runs and counts that are no multiple of N; every node but those of the rest ends empty."""
    spec = load_spec(SPECS / "two-kilns-stream.toml")
    best = tighter(spec, Request(1, 240.0, 2)).proposals[0]
    assert best.scheme == "muster row"
    assert best.measures.spread[TRICKLING] == 0
    for handover in BOTH:
        layout = replace(best.layout, rules={"handover": handover})
        for gap in (1, 5, 11, 41, 53, 97):
            for count in (24, 25):
                result = run_trial(layout, [Arrival(i * gap, "feed", 1) for i in range(count)], limit=100_000)
                (stream,) = result.streams
                assert (stream.spread, stream.held, sum(stream.delivered)) == (0, count % 2, 24), (handover, gap)


def test_no_turn_without_time_is_no_proof() -> None:
    stop = Event()
    stop.set()
    answer = propose(TWO, Request(1, 60.0, 1, stop=stop))
    assert not answer.complete
    assert answer.schemes == ("burst row", "muster row")
    assert not answer.rules_out((4, 3, 4), (8,))
    assert faults({**answer.as_json(), "files": []}, "splitwright-proposals-1") == [], "it says what was asked"
    for scheme in answer.schemes:
        assert any(f"scheme: {scheme}" in sentence for sentence in answer.scope)


def test_a_spec_that_no_scheme_serves() -> None:
    with pytest.raises(InputError, match="no scheme serves"):
        propose(replace(TWO, outputs=1, even_for="stream"), Request(1, 1.0, 1))


# -- merging ----------------------------------------------------------------------------------------------------------


def proposal(scheme: str, **measures: Any) -> Proposal:
    real = Judge(replace(TWO, scheme="burst row"), BOTH).as_it_is(BURST)
    return replace(real, measures=replace(real.measures, **measures), scheme=scheme)


def answer(scheme: str, found: list[Proposal], *steps: Step, complete: bool = True) -> Answer:
    claim = Claim((3, 2, 4), "none exists", 1.0, BOTH, scheme=scheme)
    return Answer(proposals=found, claims=[claim], steps=list(steps), scope=[scheme, "both"], solver="x",
                  complete=complete, schemes=(scheme,))  # fmt: skip


def shown(found: Answer) -> list[tuple[str, float, float | None, bool]]:
    return [(step.measure, step.value, step.bound, step.proved) for step in found.steps]


NAMES = ("burst row", "muster row")


def together(*answers: Answer) -> Answer:
    """All that they found, ranked, and the best of it."""
    every = (one for some in answers for one in some.proposals)
    found = sorted(every, key=lambda one: rank_key(one.measures, TWO.order))
    return merged(TWO, found, next(iter(found), None), answers, NAMES)


def test_a_measure_is_proved_when_it_is_for_every_scheme() -> None:
    best = proposal("burst row", volume=32, parts=21)
    steps = Step("volume", 32, 32, True), Step("parts", 21, 21, True)
    one = answer("burst row", [best], *steps)
    assert shown(together(one, answer("muster row", [best], *steps)))[:2] == [
        ("volume", 32, 32, True), ("parts", 21, 21, True)
    ]  # fmt: skip
    later = answer("muster row", [best], Step("volume", 32, 32, True), Step("parts", 21, 18, False), complete=False)
    both = together(one, later)
    assert shown(both)[:2] == [("volume", 32, 32, True), ("parts", 21, 18, False)]
    assert not both.complete


def test_a_scheme_that_is_worse_in_one_measure_has_no_say_in_the_next() -> None:
    """The first could not settle its parts; but the second has fewer cells than any layout of the first."""
    worse = answer("burst row", [proposal("burst row", volume=40, parts=21)], Step("volume", 40, 40, True),
                   Step("parts", 21, 15, False), complete=False)  # fmt: skip
    better = proposal("muster row", volume=32, parts=25)
    other = answer("muster row", [better], Step("volume", 32, 32, True), Step("parts", 25, 25, True))
    both = together(worse, other)
    assert shown(both)[:2] == [("volume", 32, 32, True), ("parts", 25, 25, True)]
    assert both.proposals[0].scheme == "muster row"
    assert both.scope == ["burst row", "both", "muster row"]


def test_a_scheme_without_a_turn_leaves_all_open() -> None:
    one = answer("burst row", [proposal("burst row", volume=32)], Step("volume", 32, 32, True))
    both = together(one)
    assert not both.complete
    assert [step.proved for step in both.steps] == [False]
    assert both.schemes == NAMES
    assert not both.rules_out((3, 2, 4), BOTH)


def test_a_scheme_without_a_layout_has_its_bound() -> None:
    """What it may still come to is no less than that; without a bound nothing is known of either."""
    one = answer("burst row", [proposal("burst row", volume=32)], Step("volume", 32, 32, True))
    for lows, told in (({"volume": 32.0}, (32, True)), ({"volume": 24.0}, (24, False)), ({}, (None, False))):
        other = replace(answer("muster row", [], complete=False), lows=lows)
        ((_, value, bound, proved),) = shown(together(one, other))
        assert (value, (bound, proved)) == (32, told)


def test_a_measure_without_a_bound_is_told_all_the_same() -> None:
    best = proposal("burst row", volume=32, throughput=8000.0)
    steps = Step("throughput", 8000.0, None, False), Step("volume", 32, None, False)
    spec = replace(TWO, order=("throughput", "volume", "parts"))
    found = merged(spec, [best], best, [answer("burst row", [best], *steps, complete=False)], ("burst row",))
    assert shown(found) == [("throughput", 8000.0, None, False), ("volume", 32, None, False)]


def test_what_is_ruled_out_for_every_scheme() -> None:
    both = together(*(answer(name, []) for name in NAMES))
    assert both.complete
    assert both.rules_out((3, 2, 4), BOTH)
    assert both.rules_out((2, 3, 4), BOTH), "a turned site is the same"
    assert not both.rules_out((3, 2, 4), (8,)), "a layout that works under 8 alone is not ruled out"


@pytest.mark.parametrize("how", ["under one handover alone", "not as the model has it"])
def test_what_claims_are_not_about_proves_nothing(how: str) -> None:
    """A known build that is smaller is listed; the steps are about the best of the others, if there is one."""
    spec, alone = replace(TWO, scheme="burst row"), how == "under one handover alone"
    smaller = replace(proposal("burst row", volume=30, handovers=(8,) if alone else BOTH), in_scope=alone)
    within = replace(
        proposal("burst row", volume=32), layout=load_layout(SPECS / "layouts" / "burst-row-of-two.plan")
    )

    def run(search: Search) -> None:
        found: Any = SimpleNamespace(claims={}, sizes=[(4, 2, 4)], steps=[Step("volume", 32, 32, True)])
        search.descent = found
        search.settled = True

    for others, steps in (([], []), ([within], [("volume", 32, 32, True)])):
        race = _Race(spec, Request(2, 60.0, 1, dominated=True), run)
        for one in (smaller, *others):
            race.board.put(one)
        found = race.answer()
        assert found.proposals == [smaller, *others]
        assert shown(found)[:1] == steps


def test_the_names_here_are_schemes() -> None:
    assert set(NAMES) <= set(schemes())
