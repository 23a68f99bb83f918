"""What a spec demands beyond trials: held against the proofs of ``sim.analysis.assure``, and no more taken as shown."""

from __future__ import annotations

import subprocess
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import synth.confirm.shown as module
from commands import faults
from sim.analysis.assure.asking import ask
from sim.analysis.assure.request import Request as Assurance
from sim.analysis.assure.verdict import Question, Verdict
from sim.errors import InputError
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from splitwright.proposing.report import verdict_lines
from synth.answer.telling import LISTED, Teller
from synth.ask.spec import Demands, Spec
from synth.confirm.judge import Judge
from synth.confirm.proposal import Proposal, Shown
from synth.confirm.shown import demands_met
from synth.model.images import images
from synth.model.plots import Plot, question_for, windows
from synth.read.spec_file import load_spec, spec_from_toml
from synth.search.exact import job
from synth.search.exact.caps import Caps
from synth.search.exact.cubes import cubes_of
from synth.search.exact.job import Job, steps_of
from synth.search.exact.walks import Walk
from synth.search.request import Request
from synth.search.result import Answer
from synth.solving.cadical import Cadical
from synth.solving.parallel.processes import Processes

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


def later(seconds: float) -> float:
    return time.monotonic() + seconds


@pytest.fixture(scope="module")
def told(muster_of_two: Layout) -> list[Proposal]:
    """A muster row and a burst row, with what is shown of them."""
    proposals = [Judge(STREAM, BOTH).as_it_is(muster_of_two), Judge(BURST, BOTH).as_it_is(burst_of_two())]
    with Teller(STREAM, Request(), later(240.0)) as teller:
        found = teller.told(proposals)
    assert [replace(one, verdicts=()) for one in found] == proposals
    return found


@pytest.mark.slow
def test_verdicts_stand_beside_the_layouts(told: list[Proposal]) -> None:
    """In the document, by the published schema, and in the report."""
    found = told[0]
    questions = {verdict.question for verdict in found.verdicts}
    assert questions == {"load", "drift", "gaps", "arrivals", "orders", "handover"}
    assert {verdict.verdict for verdict in found.verdicts} == {"proved", "tried"}
    document: dict[str, Any] = {**Answer(told, scope=["muster row"], solver="none").as_json(), "files": []}
    assert faults(document, "splitwright-proposals-1") == []
    spoiled = {**document, "layouts": [{**document["layouts"][0], "verdicts": [{"question": "load"}]}]}
    assert faults(spoiled, "splitwright-proposals-1") != []
    lines = list(verdict_lines(told))
    stream, burst, _ = lines
    for line, rank in ((stream, 1), (burst, 2)):
        assert line.startswith(f"Layout {rank}. Tip a whole load in at once (a multiple of 2): even (proved). ")
        assert "Loads of 2 and 4 in any update order: even (proved). " in line
        assert line.endswith("Whole loads under both handovers: even (proved).")
    for what in ("Loads of any number one after another", "Trickling in"):
        assert f"{what}: as even as the number allows (proved)." in stream
        assert f"{what}: not even, " in burst


@pytest.mark.slow
def test_each_layout_has_its_own_verdicts(told: list[Proposal]) -> None:
    """As ``ask`` tells them in this process, some of them asked again; of a burst row, streams are refuted."""
    quick: tuple[Question, ...] = ("arrivals", "orders")
    assert set(quick) < set(LISTED)
    for one in told:
        again = ask(one.layout, Assurance(60.0, 512, 2, 0, quick), STREAM.rules).verdicts
        assert [as_said(verdict) for verdict in one.verdicts if verdict.question in quick] == list(map(as_said, again))
    for one, is_even in zip(told, (True, False), strict=True):
        refuted = {verdict.question for verdict in one.verdicts if verdict.verdict == "refuted"}
        assert refuted == (set() if is_even else {"drift", "gaps", "arrivals"})


def as_said(verdict: Verdict) -> dict[str, Any]:
    """All of it but for how long it took."""
    said = verdict.as_json()
    del said["seconds"]
    return said


@pytest.mark.parametrize("how", ["Ctrl-C", "the time is over"])
def test_what_has_not_come_in_time_is_missing(how: str) -> None:
    """The layouts are shown all the same, each as it was."""
    proposals = [Judge(BURST, BOTH).as_it_is(one) for one in list(images(burst_of_two()))[:2]]
    search = Request()
    until = later(-1.0 if how == "the time is over" else 120.0)
    with Teller(BURST, search, until) as teller:
        if how == "Ctrl-C":
            search.stop.set()
        assert teller.told(proposals) == proposals


def process_of(teller: Teller) -> subprocess.Popen[bytes]:
    """The one that is asked, once it has begun."""
    slots = teller._engine.slots
    assert isinstance(slots, Processes)
    for _ in range(600):
        if slots._hands and (child := slots._hands[0]._child) is not None:
            return child.process
        time.sleep(0.1)
    raise AssertionError("no process")


def test_one_that_dies_is_asked_again() -> None:
    """Another process takes its place."""
    (proposal,) = [Judge(BURST, BOTH).as_it_is(burst_of_two())]
    with Teller(BURST, Request(), later(120.0)) as teller:
        process_of(teller).kill()
        (found,) = teller.told([proposal])
    assert replace(found, verdicts=()) == proposal
    assert found.verdicts


def test_what_was_asked_on_the_way_is_not_asked_again() -> None:
    """A layout that was noted has its verdicts; one that nobody wants any more holds nothing up."""
    wanted, other = (Judge(BURST, BOTH).as_it_is(one) for one in list(images(burst_of_two()))[:2])
    with Teller(BURST, Request(), later(120.0)) as teller:
        teller.note(wanted)
        (found,) = teller.told([wanted])
        assert found.verdicts
        process = process_of(teller)
        assert teller.told([wanted]) == [found]
        assert process_of(teller) is process
        teller.note(other)
        assert teller.told([wanted]) == [found]
        assert teller._asked[-1].stop.is_set(), "the other question is dropped"


def test_the_process_ends_with_the_block() -> None:
    with Teller(BURST, Request(), later(120.0)) as teller:
        process = process_of(teller)
        assert process.poll() is None
    assert process.wait(60.0) is not None


def test_the_file_states_demands() -> None:
    text = (SPECS / "two-kilns-stream.toml").read_text(encoding="utf-8")
    assert spec_from_toml(text).demands.beyond_trials
    with pytest.raises(InputError, match=r"split\.orders: must be file or all"):
        spec_from_toml(text.replace('orders = "all"', 'orders = "most"'))
