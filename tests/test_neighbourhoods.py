"""Questions near a layout: what stays, what is free, what is asked for."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from sim.world.files.reading import load_layout
from synth.confirm.judge import Judge
from synth.model.images import moved
from synth.model.plots import windows
from synth.read.spec_file import load_spec
from synth.search.exact.job import Job, steps_of
from synth.search.known.stretching import row_of
from synth.search.neighbourhoods import jobs_like, jobs_near

SPECS = Path(__file__).resolve().parent.parent / "specs"
BOTH = (8, 7)
SPEC = replace(load_spec(SPECS / "three-kilns.toml"), scheme="burst row", size=(6, 3, 4))
TWO = replace(load_spec(SPECS / "two-kilns.toml"), scheme="burst row", size=(9, 9, 9))
WITHIN = windows(SPEC, BOTH)
WORSE = load_layout(str(SPECS / "layouts" / "burst-row-of-two.plan"))


def job(**asked: Any) -> Job:
    return Job(spec=SPEC, needed=BOTH, **asked)


def test_a_layout_is_made_smaller_near_itself() -> None:
    """The hand-made row of two: fewer parts, or a smaller box, is found with small budgets."""
    best = Judge(replace(TWO, size=WORSE.size), BOTH).as_it_is(WORSE)
    spec = replace(TWO, size=WORSE.size)
    better = []
    for asked in jobs_near(best, spec, windows(spec, BOTH), lambda **more: Job(spec=spec, needed=BOTH, **more)):
        *_, report = steps_of(asked)
        better += [found.proposal.measures for found in report.found]
        if better:
            break
    assert better[0].parts < best.measures.parts or better[0].volume < best.measures.volume


def test_questions_with_most_of_it_kept_are_narrowed() -> None:
    best = Judge(replace(TWO, size=WORSE.size), BOTH).as_it_is(WORSE)
    jobs = list(jobs_near(best, TWO, windows(TWO, BOTH), job))
    near = [one for one in jobs if one.near is not None]
    assert near
    assert all(one.is_narrowed for one in near)
    assert all(one.caps.parts == best.measures.parts - 1 for one in near)
    for one in near:
        assert one.near is not None
        assert one.near.freed < frozenset(one.question.grid)


def test_in_the_manner_of_a_layout_its_row_stays() -> None:
    plan = load_layout(str(SPECS / "results" / "three-kilns-smallest.plan"))
    (asked,) = jobs_like([plan], SPEC, WITHIN, job, 1_000)
    assert asked.question.grid.size == (6, 3, 4), "one cell of room where the site has it"
    assert asked.near is not None
    assert asked.cubes == (tuple(row_of(asked.near.layout)),)
    assert asked.near.layout.parts == moved(plan, (0, 0, 0), plan.size).parts or asked.near.layout != plan


def test_a_row_on_a_blocked_cell_is_passed_over() -> None:
    plan = load_layout(str(SPECS / "results" / "three-kilns-smallest.plan"))
    blocked = replace(SPEC, size=plan.size, blocked=frozenset({row_of(plan)[0]}))
    assert not list(jobs_like([plan], blocked, WITHIN, job, 1_000))
