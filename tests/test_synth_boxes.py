"""The search in small boxes: what is proposed works by an independent trial and keeps to the spec; what is said not to
exist was proved; what was cut short says so."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from sim.analysis.checks import design_findings
from sim.world.files.layout_json import layout_json_text
from sim.world.layout import Layout
from sim.world.trial import Arrival, run_trial
from synth.ask.spec import PartLimit, Spec
from synth.confirm.built import box_of
from synth.confirm.proposal import Proposal
from synth.model.images import canonical_key
from synth.model.plots import Plot, question_for, volume, windows
from synth.read.spec_file import load_spec
from synth.search.exact.caps import Caps
from synth.search.exact.job import Job, steps_of
from synth.search.front import best_ones
from synth.search.race import Request, first_layout, propose
from synth.search.result import Answer

FOLDER = Path(__file__).resolve().parent.parent / "specs"
PART_KINDS = ("bin", "node", "furnace", "support", "line", "inverter", "relay", "gauge")


def spec_called(name: str, **changes: object) -> Spec:
    """A spec of the set, of burst rows unless said otherwise (``tests/test_synth_turns.py`` is about all schemes)."""
    return replace(load_spec(FOLDER / f"{name}.toml"), **{"scheme": "burst row", **changes})  # type: ignore[arg-type]


def first(spec: Spec, seconds: float = 120.0, seed: int = 0) -> Answer:
    return first_layout(spec, Request(1, seconds, 1, seed))


def assert_keeps_to(layout: Layout, spec: Spec) -> None:
    """Everything that the spec says of a layout; and even for three loads of other sizes than the search tries too."""
    width, depth, height = box_of(layout)
    assert height <= spec.size[2]
    assert sorted((width, depth)) <= sorted(spec.size[:2]) or (width <= spec.size[0] and depth <= spec.size[1])
    counts = Counter(part.kind for part in layout.parts)
    assert counts["furnace"] == spec.outputs
    assert counts["bin"] == len(spec.streams)
    for kind in PART_KINDS:
        most = spec.limit(kind).most
        assert most is None or counts[kind] <= most, kind
    assert len({part.at for part in layout.parts}) == len(layout.parts)
    assert [(s.name, s.item, len(s.outputs)) for s in layout.streams] == [
        (s.name, s.item, spec.outputs) for s in spec.streams
    ]
    assert design_findings(layout, spec.rules) == []
    for each in (1, 5, 18):
        result = run_trial(
            layout, [Arrival(0, s.name, each * spec.outputs) for s in spec.streams], limit=100_000, rules=spec.rules
        )
        assert result.at_rest
        assert result.findings == ()
        for stream in result.streams:
            assert stream.delivered == (each,) * spec.outputs
            assert stream.held == 0


def only(answer: Answer) -> Proposal:
    (proposal,) = answer.proposals
    return proposal


# -- found, and proved not to be there --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def two_kilns() -> Answer:
    """All that is found for two kilns in the shed of the spec, what is no better in anything too."""
    return propose(spec_called("two-kilns"), Request(1000, 120.0, 1, dominated=True))


@pytest.mark.slow
def test_two_kilns_in_thirty_two_cells(two_kilns: Answer) -> None:
    best = two_kilns.proposals[0]
    assert best.measures.volume <= 4 * 2 * 4
    spec = spec_called("two-kilns")
    for proposal in two_kilns.proposals:
        assert_keeps_to(proposal.layout, spec)
        assert proposal.measures.box == box_of(proposal.layout)
        assert proposal.measures.parts == len(proposal.layout.parts)
        assert set(proposal.measures.spread.values()) == {0}
    keys = [canonical_key(proposal.layout) for proposal in two_kilns.proposals]
    assert len(set(keys)) == len(keys)
    ranks = [(one.measures.volume, one.measures.parts, one.measures.latency) for one in two_kilns.proposals]
    assert ranks == sorted(ranks)
    assert best_ones(two_kilns.proposals, spec.order)[0] is best


@pytest.mark.slow
def test_each_that_is_told_is_better_and_the_best_of_them_are_listed() -> None:
    """Of the same search: what is told as it comes, and the list at the end."""
    spec, told = spec_called("two-kilns", size=(4, 2, 4)), list[Proposal]()
    answer = propose(spec, Request(2, 120.0, 1, found=told.append))
    assert told
    for number, one in enumerate(told, 1):
        assert any(one is other for other in best_ones(told[:number], spec.order))
    assert answer.proposals == best_ones(told, spec.order)[:2]


@pytest.mark.slow
def test_no_claim_contradicts_another(two_kilns: Answer) -> None:
    """No box is both found in and ruled out, nor one that contains a found one ruled out; smaller boxes than the best
    are all told of, none as found."""
    assert two_kilns.complete
    claims = [claim for claim in two_kilns.claims if claim.parts is None]
    boxes = {tuple(sorted(proposal.measures.box[:2])) + proposal.measures.box[2:] for proposal in two_kilns.proposals}
    for claim in claims:
        shape = (*sorted(claim.box[:2]), claim.box[2])
        if claim.verdict == "none exists":
            assert not any(all(b <= s for b, s in zip(box, shape, strict=True)) for box in boxes), claim
        if claim.verdict == "found":
            assert shape in boxes
    best = two_kilns.proposals[0].measures
    smaller = {c.box: c.verdict for c in claims if c.box[0] * c.box[1] * c.box[2] < best.volume}
    # by hand: at least 3 columns (3 T nodes), 4 layers high; width 4, depth 3 at the most, wider than deep
    assert set(smaller) == {(3, 1, 4), (4, 1, 4), (2, 2, 4), (3, 2, 4)}
    assert set(smaller.values()) == {"none exists"}
    fewer = [c for c in two_kilns.claims if c.parts is not None and c.box == best.box]
    assert (best.parts - 1, "none exists") in [(c.parts, c.verdict) for c in fewer]
    assert all(c.verdict == "found" for c in fewer if c.parts is not None and c.parts >= best.parts)
    assert [(step.measure, step.value, step.proved) for step in two_kilns.steps] == [
        ("volume", best.volume, True),
        ("parts", best.parts, True),
        ("latency", best.latency, True),
    ]


@pytest.mark.slow
def test_three_kilns_do_not_fit_a_depth_of_two() -> None:
    answer = first(spec_called("three-kilns-too-tight"), 120.0)
    assert answer.proposals == []
    verdicts = {(claim.handovers, claim.verdict) for claim in answer.claims if claim.box == (4, 2, 4)}
    assert ((8,), "none exists") in verdicts
    assert answer.rules_out((4, 2, 4), (8,))
    assert not answer.rules_out((4, 3, 4), (8,))
    assert not answer.rules_out((4, 2, 4), (5,))


def test_a_site_that_is_too_small_is_ruled_out_at_once() -> None:
    """Four nodes of a row, bin, B nodes and kilns need four layers, whatever the rest."""
    answer = first(spec_called("three-kilns", size=(6, 6, 3)), 30.0)
    assert answer.proposals == []
    assert answer.rules_out((6, 6, 3), (8,))
    assert answer.seconds < 20


def test_what_is_cut_short_is_open() -> None:
    """A second is not enough for the big yard: nothing found, nothing claimed to be impossible but in boxes that were
    settled by then, the smallest first (3 x 3 x 4 takes about a second)."""
    answer = propose(spec_called("eight-kilns"), Request(1, 1.0, 1))
    assert answer.proposals == []
    assert not answer.complete
    assert all(claim.verdict == "open" or volume(claim.box) <= 36 for claim in answer.claims)
    assert not answer.rules_out((9, 3, 4), (8,))


# -- what the spec limits ---------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_blocked_cells_stay_free() -> None:
    blocked = frozenset({(0, 0, 0), (0, 0, 1), (2, 1, 1), (3, 2, 2)})
    spec = spec_called("two-kilns", size=(5, 4, 4), blocked=blocked)
    proposal = only(first(spec))
    assert_keeps_to(proposal.layout, spec)
    assert not any(part.at in blocked for part in proposal.layout.parts)


@pytest.mark.slow
@pytest.mark.parametrize("limits", [{"relay": 1, "line": 4}], ids=str)
def test_part_limits_are_kept(limits: dict[str, int]) -> None:
    spec = spec_called("two-kilns", size=(5, 3, 4), limits={kind: PartLimit(most) for kind, most in limits.items()})
    answer = first(spec)
    for proposal in answer.proposals:
        assert_keeps_to(proposal.layout, spec)
    assert answer.proposals or all(claim.verdict != "found" for claim in answer.claims)
    assert answer.proposals, "two kilns have been built within these limits"


def test_no_gauge_no_split() -> None:
    """Both ends of the row are read, so two gauges is the least: one is proved not to do."""
    spec = spec_called("two-kilns", size=(4, 2, 4), limits={"gauge": PartLimit(1)})
    answer = first(spec, 30.0)
    assert answer.proposals == []
    assert answer.rules_out((4, 2, 4), (8,))


def pinned(name: str, size: tuple[int, int, int], **changes: object) -> Spec:
    spec = spec_called(name, size=size)
    return replace(spec, streams=(replace(spec.streams[0], **changes), *spec.streams[1:]))  # type: ignore[arg-type]


@pytest.mark.slow
def test_a_source_stands_where_it_is_pinned() -> None:
    spec = pinned("two-kilns", (4, 2, 4), source=(0, 0, 3))
    layout = only(first(spec)).layout
    assert_keeps_to(layout, spec)
    assert layout.streams[0].source == (0, 0, 3)
    assert layout.by_cell[0, 0, 3].kind == "bin"


@pytest.mark.slow
def test_a_box_away_from_the_corner_stands_where_the_pins_are() -> None:
    """What is found in a box somewhere in the site is told in the site's cells, not in the box's own."""
    spec = pinned("two-kilns", (5, 2, 4), source=(1, 0, 3))
    plot = Plot((1, 0, 0), (4, 2, 4))
    question = question_for(spec, plot, windows(spec, (8, 7)))
    *_, report = steps_of(Job(spec, question, (8, 7), ((),), Caps(), 2_000_000, engine="CP-SAT"))
    (found,) = report.found
    layout = found.proposal.layout
    assert layout.streams[0].source == (1, 0, 3)
    assert all(part.at in plot for part in layout.parts)


@pytest.mark.slow
@pytest.mark.parametrize("side", ["W", "E", "N", "S", "U"])
def test_a_source_stands_on_its_side(side: str) -> None:
    spec = pinned("two-kilns", (4, 3, 4), source=side)
    layout = only(first(spec)).layout
    assert_keeps_to(layout, spec)
    axis, edge = {"W": (0, 0), "E": (0, 3), "N": (1, 2), "S": (1, 0), "U": (2, 3)}[side]
    assert layout.streams[0].source[axis] == edge


@pytest.mark.slow
def test_a_source_on_the_ground_is_impossible() -> None:
    """Below the bin stands a node, below that one more and a kiln: the bin never stands on the ground."""
    answer = first(pinned("two-kilns", (4, 3, 4), source="D"), 30.0)
    assert answer.proposals == []
    assert answer.rules_out((4, 3, 4), (8,))


@pytest.mark.slow
def test_furnaces_stand_where_they_are_pinned() -> None:
    """In the order given, each served by the B node above it."""
    spec = pinned("two-kilns", (4, 2, 4), outputs_at=((0, 1, 0), (1, 1, 0)))
    layout = only(first(spec)).layout
    assert_keeps_to(layout, spec)
    assert layout.streams[0].outputs == ((0, 1, 0), (1, 1, 0))
    assert {part.at for part in layout.parts if part.kind == "furnace"} == {(0, 1, 0), (1, 1, 0)}


# -- again ------------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_the_same_seed_finds_the_same_first_layout() -> None:
    spec = spec_called("two-kilns", size=(4, 2, 4))
    once, again = (layout_json_text(only(first(spec, seed=5)).layout) for _ in range(2))
    assert once == again
