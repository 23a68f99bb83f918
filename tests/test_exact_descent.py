"""The descent to the smallest: its proofs agree with another route, its bounds with every known build."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from synth.ask.spec import PartLimit, Spec
from synth.confirm.confirmation import confirm
from synth.confirm.judge import Judge
from synth.confirm.measures import measured, rank_key
from synth.confirm.proposal import Proposal
from synth.model.build import model_of
from synth.model.images import canonical_key
from synth.model.limits import cost
from synth.model.plots import Plot, Size, question_for, sizes, windows
from synth.read.layout import spec_of_layout
from synth.read.spec_file import load_spec
from synth.schemes.burst_row import earliest_last_arrival
from synth.search.exact.bounds import fewest, fewest_parts
from synth.search.exact.caps import Caps
from synth.search.exact.descent import Descent
from synth.search.exact.ladder import Ladder
from synth.search.exact.worker import JobEngine, engine_for
from synth.search.race import tighter
from synth.search.request import Request
from synth.search.result import Answer, Claim
from synth.solving.cp_sat import CpSat, Effort

WIRING_KINDS = ("support", "line", "inverter", "relay", "gauge")

REPOSITORY = Path(__file__).resolve().parent.parent
SPEC = replace(load_spec(REPOSITORY / "specs" / "two-kilns.toml"), scheme="burst row")
BOTH = (8, 7)
FAR = 300.0
"""Seconds that no search here needs."""
PRICES = {"gauge": PartLimit(None, 4), "support": PartLimit(None, 0), "relay": PartLimit(None, 5),
          "inverter": PartLimit(None, 2)}  # fmt: skip


def cells(size: Size) -> int:
    return size[0] * size[1] * size[2]


@dataclass
class Search:
    """A descent with what it kept and told."""

    spec: Spec
    kept: list[Proposal] = field(default_factory=list)
    told: list[Ladder] = field(default_factory=list)
    limit_s: float = FAR
    asked: Sequence[Size] | None = None

    def best(self) -> Proposal | None:
        return min(self.kept, key=lambda one: rank_key(one.measures, self.spec.order), default=None)

    def descent(self, engine: JobEngine) -> Descent:
        boxes = sizes(self.spec, cells) if self.asked is None else list(self.asked)
        return Descent(
            self.spec, Request(workers=engine.slots.count), BOTH, engine, self.kept.append, self.best, boxes,
            time.monotonic() + self.limit_s, lambda descent: self.told.append(descent.ladder()),
        )  # fmt: skip

    def run(self) -> tuple[bool, Descent]:
        with engine_for(1) as engine:
            descent = self.descent(engine)
            return descent.run(), descent


def steps_of(descent: Descent) -> list[tuple[str, float, float | None, bool]]:
    return [(one.measure, one.value, one.bound, one.proved) for one in descent.steps]


# -- two kilns on a roomy site ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def roomy() -> tuple[Search, Descent]:
    search = Search(replace(SPEC, size=(6, 6, 6)))
    settled, descent = search.run()
    assert settled
    return search, descent


@pytest.mark.slow
def test_two_kilns_are_settled_on_a_roomy_site(roomy: tuple[Search, Descent]) -> None:
    search, descent = roomy
    best = search.best()
    assert best is not None
    latency = best.measures.latency
    assert steps_of(descent) == [
        ("volume", 32, 32, True),
        ("parts", 21, 21, True),
        ("latency", latency, latency, True),
    ]
    assert (best.measures.box, best.measures.volume, best.measures.parts) == ((4, 2, 4), 32, 21)
    assert Judge(SPEC, BOTH).accepts(best.layout)
    assert latency >= earliest_last_arrival(SPEC.rules, 2, windows(SPEC, BOTH))


@pytest.mark.slow
def test_its_verdicts_are_those_of_another_solver_without_cubes(roomy: tuple[Search, Descent]) -> None:
    """Every box of at most 32 cells solved whole by CP-SAT: only 4 x 2 x 4 has a candidate."""
    search, descent = roomy
    boxes = sizes(search.spec, cells, most_cells=32)
    outcomes = {}
    for size in boxes:
        asked = question_for(search.spec, Plot((0, 0, 0), size), windows(search.spec, BOTH))
        outcomes[size] = CpSat(model_of(asked).clauses).solve(Effort(FAR)).outcome
    assert {size for size, outcome in outcomes.items() if outcome == "found"} == {(4, 2, 4)}
    assert set(outcomes.values()) == {"found", "none exists"}
    any_parts = {claim.box: claim.verdict for claim in descent.claims.values() if claim.parts is None}
    assert {size: any_parts[size] for size in boxes} == outcomes


@pytest.mark.slow
def test_the_ladder_tells_how_it_stands(roomy: tuple[Search, Descent]) -> None:
    """The bound never falls while one measure is in hand, and never passes what is found in the end."""
    search, descent = roomy
    ends = {step.measure: step.value for step in descent.steps}
    for measure in ends:
        bounds = [one.bound for one in search.told if one.measure == measure and one.bound is not None]
        assert bounds == sorted(bounds)
        assert bounds
        assert bounds[-1] <= ends[measure]
    assert len({one.bound for one in search.told if one.measure == "volume"}) > 5
    best = [one.best for one in search.told if one.measure == "parts"]
    assert best == sorted(best, reverse=True)  # type: ignore[type-var]
    for ladder in search.told:
        for rung in ladder.rungs:
            assert 0 <= rung.left <= rung.cubes
            if rung.state == "none exists":
                assert rung.left == 0
    states = {rung.state for ladder in search.told for rung in ladder.rungs}
    assert states >= {"waiting", "searching", "none exists", "found"}


# -- other rankings ---------------------------------------------------------------------------------------------------


def ranked(order: tuple[str, ...], size: Size, limits: dict[str, PartLimit] | None = None) -> tuple[Descent, Proposal]:
    search = Search(replace(SPEC, size=size, order=order, limits=limits or {}))
    settled, descent = search.run()
    best = search.best()
    assert settled
    assert best is not None
    assert all(step.proved and step.bound == step.value for step in descent.steps)
    assert [step.measure for step in descent.steps] == list(order)
    assert [step.value for step in descent.steps] == list(rank_key(best.measures, order))
    return descent, best


@pytest.mark.slow
def test_answers_of_different_rankings_agree() -> None:
    """Each is the least in its own first measure of all that were found, whichever way."""
    size = (4, 2, 5)
    every = {order: ranked(order, size)[1].measures for order in (
        ("volume", "parts"), ("height", "parts"), ("footprint", "volume"),
    )}  # fmt: skip
    found = list(every.values())
    for order, measures in every.items():
        for one in found:
            assert rank_key(measures, order) <= rank_key(one, order), (order, one)


@pytest.mark.slow
def test_fewest_parts_of_all_boxes() -> None:
    """Twenty parts are too few in any box of the site, also by CP-SAT on the whole site; twenty-one do."""
    size = (4, 2, 4)
    descent, best = ranked(("parts",), size)
    assert best.measures.parts == 21
    assert verdict_with(size, dict.fromkeys(WIRING_KINDS, 1), 20 - items_of(SPEC)) == "none exists"
    assert descent.is_ruled_out(size, Caps(parts=20, prices=descent.caps.prices))
    assert not descent.is_ruled_out(size, Caps(parts=21, prices=descent.caps.prices))


@pytest.mark.slow
def test_the_lowest_price() -> None:
    """With supports for nothing and other parts dearer; one less is too little by CP-SAT too."""
    size = (4, 2, 4)
    _, best = ranked(("price",), size, PRICES)
    counts = best.measures.by_kind
    price = sum(PRICES.get(kind, PartLimit()).price * count for kind, count in counts.items())
    assert best.measures.price == price
    weights = {kind: PRICES.get(kind, PartLimit()).price for kind in WIRING_KINDS}
    assert verdict_with(size, weights, price - 1 - items_of(SPEC)) == "none exists"


def items_of(spec: Spec) -> int:
    """Furnaces, nodes and bin of one stream: the same in every layout; of price one each here."""
    return spec.outputs + 2 * spec.outputs + 2


def verdict_with(size: Size, weights: dict[str, int], most: int) -> str:
    """By CP-SAT, everything at once: is there a candidate whose wiring costs at most so much?"""
    v = model_of(question_for(replace(SPEC, size=size), Plot((0, 0, 0), size), windows(SPEC, BOTH)))
    solver = CpSat(v.clauses)
    solver.at_most(cost(v, weights), most)
    return solver.solve(Effort(FAR)).outcome


def made_up(spec: Spec, **measures: object) -> Proposal:
    """A proposal with other figures than its layout's."""
    layout = load_layout(REPOSITORY / "specs" / "layouts" / "burst-row-of-two.plan")
    real = measured(layout, confirm(layout, spec.rules, needed=BOTH), spec)
    return Proposal(layout, replace(real, **measures))  # type: ignore[arg-type]


@pytest.mark.slow
@pytest.mark.parametrize("second", ["volume", "parts"])
def test_a_measure_after_latency_does_not_go_round_in_circles(second: str) -> None:
    """The best is so quick that nothing in the box is as good: what is found there is found once, not again and
    again."""
    spec = replace(SPEC, size=(4, 2, 4), order=("latency", second))
    quickest = earliest_last_arrival(spec.rules, 2, windows(spec, BOTH))
    search = Search(spec, [made_up(spec, latency=quickest, volume=40, parts=30)], limit_s=8.0)
    search.run()
    assert search.best() is search.kept[0]
    keys = [canonical_key(one.layout) for one in search.kept[1:]]
    assert len(set(keys)) == len(keys)


# -- bounds -----------------------------------------------------------------------------------------------------------

BUILT = sorted((REPOSITORY / "specs" / "layouts").glob("burst-row-*.plan"))


def confirmed(path: Path) -> tuple[Spec, Layout]:
    layout = load_layout(path)
    return spec_of_layout(layout)[0], layout


@pytest.mark.parametrize("path", BUILT, ids=lambda path: path.stem)
def test_no_bound_exceeds_what_was_built(path: Path) -> None:
    spec, layout = confirmed(path)
    spec = replace(spec, limits=PRICES)
    result = confirm(layout, spec.rules, needed=(8,))
    figures = measured(layout, result, spec)
    assert fewest_parts(spec) == fewest(spec, "parts") <= figures.parts
    assert fewest(spec, "price") <= figures.price
    window = windows(spec, result.handovers)
    assert earliest_last_arrival(spec.rules, spec.outputs, window) <= figures.latency


@pytest.mark.slow
def test_no_bound_exceeds_what_was_found(roomy: tuple[Search, Descent]) -> None:
    search, _ = roomy
    assert len(search.kept) > 1
    bound = earliest_last_arrival(SPEC.rules, 2, windows(SPEC, BOTH))
    for one in search.kept:
        assert fewest_parts(SPEC) <= one.measures.parts
        assert bound <= one.measures.latency


def test_the_bounds_by_hand() -> None:
    """Two kilns from the top: a bin, T0 T1 T2, B1 B2, two kilns, two gauges, each on a support: twelve parts."""
    assert fewest_parts(SPEC) == 1 + 3 + 2 + 2 + 2 + 2
    fuelled = load_spec(REPOSITORY / "specs" / "two-kilns-fuelled.toml")
    assert fewest_parts(fuelled) == 2 + 2 * (1 + 3 + 2 + 2), "a gauge may stand on a kiln that is fed from the side"
    priced = replace(SPEC, limits=PRICES)
    assert fewest(priced, "price") == 1 + 3 + 2 + 2 + 2 * 4


@pytest.mark.parametrize("outputs", [2, 3, 4, 5])
def test_the_quickest_arrival_by_hand(outputs: int) -> None:
    """An item moves once a period: T0 takes the first at tick 1, TN has it N periods later; the earliest lock opens a
    gauge's delay after that or after T0 is found empty; a B node pulls then and pushes a period later."""
    rules, window = SPEC.rules, windows(SPEC, (8,))
    tail_holds = 1 + outputs * rules.period
    last_leaves_t0 = 1 + (outputs - 1) * rules.period + rules.period
    opens = min(tail_holds, last_leaves_t0) + rules.gauge_delay
    assert earliest_last_arrival(rules, outputs, window) == opens + rules.period


# -- boxes and claims -------------------------------------------------------------------------------------------------


def claim(size: Size, parts: int | None = None, **more: object) -> Claim:
    return Claim(size, "none exists", 1.0, BOTH, parts, **more)  # type: ignore[arg-type]


def test_boxes_within_one_that_is_ruled_out_are_implied() -> None:
    with engine_for(1) as engine:
        descent = Search(replace(SPEC, size=(6, 6, 6))).descent(engine)
        descent.rule_out(claim((5, 3, 5)))
        for inside in ((5, 3, 5), (5, 2, 4), (3, 3, 5), (4, 3, 4)):
            assert descent.is_ruled_out(inside)
        for outside in ((6, 1, 4), (5, 4, 4), (4, 4, 4), (3, 1, 6), (5, 3, 6)):
            assert not descent.is_ruled_out(outside)
        by = {one.box: one.implied_by for one in descent.claims.values() if one.box != (5, 3, 5) and not one.note}
    assert by == {(5, 2, 4): (5, 3, 5), (3, 3, 5): (5, 3, 5), (4, 3, 4): (5, 3, 5)}


def test_what_is_ruled_out_with_few_parts_is_not_with_more() -> None:
    with engine_for(1) as engine:
        descent = Search(replace(SPEC, size=(6, 6, 6))).descent(engine)
        descent.rule_out(claim((5, 3, 5), 22))
        caps = descent.caps
        assert descent.is_ruled_out((4, 2, 4), caps.tightened("parts", 22))
        assert descent.is_ruled_out((4, 2, 4), caps.tightened("parts", 15))
        assert not descent.is_ruled_out((4, 2, 4), caps.tightened("parts", 23))
        assert not descent.is_ruled_out((4, 2, 4))
        assert descent.claims[(4, 2, 4), 15, None].implied_by == (5, 3, 5)


def test_on_a_marked_site_a_turned_box_is_another() -> None:
    open_site, marked = replace(SPEC, size=(6, 6, 4)), replace(SPEC, size=(6, 6, 4), blocked=frozenset({(0, 0, 0)}))
    for spec, turned in ((open_site, True), (marked, False)):
        with engine_for(1) as engine:
            descent = Search(spec).descent(engine)
            descent.rule_out(claim((5, 3, 4)))
            assert descent.is_ruled_out((4, 3, 4))
            assert descent.is_ruled_out((3, 5, 4)) is turned


def test_boxes_too_small_for_the_parts_are_ruled_out_by_counting() -> None:
    spec = replace(SPEC, outputs=5, size=(7, 7, 5))
    least = fewest_parts(spec)
    with engine_for(1) as engine:
        descent = Search(spec).descent(engine)
        counted = {one.box for one in descent.claims.values()}
        assert all("by counting" in one.note for one in descent.claims.values())
    assert counted == {size for size in sizes(spec, cells) if cells(size) < least}


def test_a_box_that_stayed_open_is_told_ruled_out_once_a_larger_one_is() -> None:
    """A verdict that has come since goes before "open"."""
    with engine_for(1) as engine:
        descent = Search(replace(SPEC, size=(6, 6, 6))).descent(engine)
        descent.claims[(4, 2, 4), None, None] = replace(claim((4, 2, 4)), verdict="open")
        descent.rule_out(claim((5, 3, 5)))
        assert descent.is_ruled_out((4, 2, 4))
        told = descent.claims[(4, 2, 4), None, None]
    assert (told.verdict, told.implied_by) == ("none exists", (5, 3, 5))


@pytest.mark.parametrize(
    ("size", "stream"),
    [((4, 1, 4), {"source": "D"}), ((3, 1, 5), {"source": (0, 0, 2)}), ((3, 2, 4), {"source": (0, 0, 1)})],
    ids=str,
)
def test_a_box_in_which_no_row_can_stand_is_ruled_out(size: Size, stream: dict[str, object]) -> None:
    """The source is pinned where no row fits below it: nothing to solve, and a verdict all the same."""
    spec = replace(SPEC, size=size, streams=(replace(SPEC.streams[0], **stream),))  # type: ignore[arg-type]
    settled, descent = Search(spec, limit_s=5.0).run()
    assert settled
    assert {one.verdict for one in descent.claims.values()} == {"none exists"}
    assert descent.is_ruled_out(size)


def test_a_limit_leaves_boxes_open_never_ruled_out() -> None:
    """No time at all: nothing but what counting shows is claimed."""
    search = Search(replace(SPEC, outputs=4, size=(6, 4, 4)), limit_s=0.0)
    settled, descent = search.run()
    assert not settled
    assert search.kept == []
    assert all("by counting" in one.note for one in descent.claims.values() if one.verdict == "none exists")


# -- the whole search -------------------------------------------------------------------------------------------------


def searched(spec: Spec, limit_s: float = FAR, **more: object) -> Answer:
    return tighter(spec, Request(3, limit_s, 1), **more)  # type: ignore[arg-type]


def by_verdict(answer: Answer) -> Callable[[str], set[Size]]:
    return lambda verdict: {one.box for one in answer.claims if one.verdict == verdict and one.parts is None}


@pytest.mark.slow
def test_nothing_in_a_site_that_is_too_small() -> None:
    """All boxes are ruled out under both handovers, and then under the one in force alone."""
    answer = searched(replace(SPEC, size=(3, 2, 4)))
    assert answer.complete
    assert answer.proposals == answer.steps == []
    assert by_verdict(answer)("none exists") == {(3, 1, 4), (2, 2, 4), (3, 2, 4)}
    assert {one.handovers for one in answer.claims} == {(8, 7), (8,)}
    assert answer.rules_out((3, 2, 4), (8,))
