"""What a spec demands beyond trials: held against the proofs of ``sim.assure``, and no more taken as shown."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import synth.shown as module
from commands import faults
from sim.errors import InputError
from sim.files.reading import load_layout
from sim.layout import Layout
from splitwright.proposal_report import verdict_lines
from synth.exact import job
from synth.exact.cadical import Cadical
from synth.exact.caps import Caps
from synth.exact.cubes import cubes_of
from synth.exact.job import Job, steps_of
from synth.exact.walks import Walk
from synth.judge import Judge
from synth.plots import Plot, question_for, windows
from synth.request import Request
from synth.result import Answer, Shown
from synth.shown import demands_met, with_verdicts
from synth.spec import Demands, Spec
from synth.spec_file import load_spec, spec_from_toml

SPECS = Path(__file__).resolve().parent.parent / "specs"
BOTH = (8, 7)
BURST = replace(load_spec(SPECS / "two-kilns.toml"), scheme="burst row")
STREAM = replace(load_spec(SPECS / "two-kilns-stream.toml"), scheme="muster row")


def burst_of_two() -> Layout:
    return load_layout(SPECS / "results" / "two-kilns-smallest.plan")


@pytest.fixture(scope="module")
def muster_of_two() -> Layout:
    """The smallest one, as the exact search finds it."""
    *_, report = steps_of(job_of(STREAM))
    return report.found[0].proposal.layout


def job_of(spec: Spec) -> Job:
    """The box of 4 x 2 x 4 with all its rows."""
    question = question_for(spec, Plot((0, 0, 0), (4, 2, 4)), windows(spec, BOTH))
    return Job(spec, question, BOTH, tuple(cubes_of(question)), Caps(), 400_000)


def test_a_burst_row_is_even_in_every_order_but_not_for_every_arrival() -> None:
    layout = burst_of_two()
    assert demands_met(layout, replace(BURST, demands=Demands(orders="all")), BOTH) == "shown"
    assert demands_met(layout, replace(BURST, demands=Demands(arrivals="all")), BOTH) == "refuted"


def test_what_takes_too_long_is_neither_shown_nor_refuted() -> None:
    spec = replace(BURST, demands=Demands(orders="all"))
    assert demands_met(burst_of_two(), spec, BOTH, seconds=0.0) == "open"


def test_the_smallest_muster_row_meets_every_demand(muster_of_two: Layout) -> None:
    assert STREAM.demands == Demands(orders="all", handover="both", arrivals="all")
    assert demands_met(muster_of_two, STREAM, BOTH) == "shown"
    assert Judge(STREAM, BOTH).accepts(muster_of_two)


@pytest.mark.parametrize("shown", ["shown", "refuted", "open"])
def test_the_judge_takes_the_answer_as_it_is(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    monkeypatch.setattr(module, "demands_met", lambda *_: asked.append(1) or shown)
    judge, layout = Judge(replace(BURST, demands=Demands(orders="all")), BOTH), burst_of_two()
    assert judge.accepts(layout) == (shown == "shown")
    assert judge.undecided(layout) == (shown == "open")
    # refuted for how it splits: all with the same lock may be cut; undecided: only this very filling
    assert judge.refused_by_finding(layout) == (shown != "refuted")
    assert len(asked) == 1, "asked once for the same layout"


def test_nobody_is_asked_where_nothing_is_demanded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "demands_met", lambda *_: pytest.fail("asked"))
    assert Judge(BURST, BOTH).accepts(burst_of_two())


@pytest.mark.parametrize("answer", ["refuted", "open"])
def test_a_cube_with_an_undecided_candidate_is_not_ruled_out(answer: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    """One candidate is answered; then the solver, as it were, finds no other. Refuted, the cube is ruled out."""

    class OneCandidate(Cadical):
        tried = 0

        def solve(self, assumptions: Any, conflicts: int) -> bool | None:
            self.tried += 1
            return super().solve(assumptions, conflicts) if self.tried == 1 else False

    monkeypatch.setattr(job, "Cadical", OneCandidate)
    monkeypatch.setattr(module, "demands_met", lambda *_: answer)
    one = job_of(STREAM)
    holding = found_in(STREAM)
    *_, report = steps_of(replace(one, cubes=(holding,)))
    assert (report.admitted, report.refused, report.found) == (1, 1, [])
    assert report.ruled_out == ([holding] if answer == "refuted" else [])
    assert report.open == ([] if answer == "refuted" else [holding])
    assert report.undecided == (0 if answer == "refuted" else 1)


def found_in(spec: Spec) -> Walk:
    """A cube that holds a layout."""
    one = job_of(replace(spec, demands=Demands()))
    return next(cube for cube in one.cubes if list(steps_of(replace(one, cubes=(cube,))))[-1].found)


def test_verdicts_stand_beside_the_layouts(muster_of_two: Layout) -> None:
    """In the document, by the published schema, and in the report; none from Ctrl-C on."""
    proposal = Judge(STREAM, BOTH).as_it_is(muster_of_two)
    (found,) = with_verdicts([proposal], STREAM, 20.0, Request())
    questions = {verdict.question for verdict in found.verdicts}
    assert questions == {"load", "drift", "gaps", "arrivals", "orders", "handover"}
    assert {verdict.verdict for verdict in found.verdicts} == {"proved", "tried"}
    document: dict[str, Any] = {**Answer([found], scope=["muster row"], solver="none").as_json(), "files": []}
    assert faults(document, "splitwright-proposals-1") == []
    spoiled = {**document, "layouts": [{**document["layouts"][0], "verdicts": [{"question": "load"}]}]}
    assert faults(spoiled, "splitwright-proposals-1") != []
    lines = list(verdict_lines([found]))
    assert lines[0].startswith("Verdicts on layout 1: load 4 proved; drift 4 proved; gaps 2 proved, 2 tried;")
    stopped = Request()
    stopped.stop.set()
    assert with_verdicts([proposal], STREAM, 20.0, stopped) == [proposal]


def test_the_file_states_demands() -> None:
    text = (SPECS / "two-kilns-stream.toml").read_text(encoding="utf-8")
    assert spec_from_toml(text).demands.beyond_trials
    with pytest.raises(InputError, match=r"split\.orders: must be file or all"):
        spec_from_toml(text.replace('orders = "all"', 'orders = "most"'))
