"""One piece of a search, small enough to hand to another process: some cubes of one question, under caps."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Final

from synth.decode import box_cells, layout_of
from synth.exact.cadical import Cadical
from synth.exact.caps import Caps
from synth.exact.cnf import Cnf
from synth.exact.cubes import literals_of
from synth.exact.cuts import same_filling, same_lock, same_parts
from synth.exact.walks import Walk
from synth.judge import Judge
from synth.model.build import model_of
from synth.model.clauses import Lit
from synth.model.question import Question
from synth.model.vocabulary import Vocabulary
from synth.result import Proposal
from synth.spec import Spec

SLICE: Final = 5_000
"""Conflicts between two looks at whether anybody still waits for the answer."""
REFUSAL: Final = 200
"""What a refused candidate counts for in a cube's budget of conflicts."""


@dataclass(frozen=True, slots=True)
class Job:
    """Settle some cubes of a question, in their order.

    ``needed``: handovers under which a layout must work. ``caps``: bounds on parts and price. ``conflicts``: budget for
    each cube. ``every``: go on after a layout is found, until all are. ``nogoods``: clauses from earlier jobs of the
    same question. A job's result depends on nothing else.
    """

    spec: Spec
    question: Question
    needed: tuple[int, ...]
    cubes: tuple[Walk, ...]
    caps: Caps
    conflicts: int
    seed: int = 0
    every: bool = False
    nogoods: tuple[tuple[Lit, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Found:
    """A confirmed layout, and the clause that asks for another one."""

    proposal: Proposal
    nogood: tuple[Lit, ...]


@dataclass(slots=True)
class Report:
    """What came of a job. Cubes that are in neither list were not come to.

    ``ruled_out``: proved to hold no layout but those found, refused candidates cut out by sound no-goods alone;
    ``open``: the budget ran out, or a candidate was neither accepted nor refused (``undecided``: how many).
    ``note``: why a job ended early.
    """

    ruled_out: list[Walk] = field(default_factory=list)
    open: list[Walk] = field(default_factory=list)
    found: list[Found] = field(default_factory=list)
    admitted: int = 0
    refused: int = 0
    undecided: int = 0
    seconds: float = 0.0
    note: str = ""


def steps_of(job: Job) -> Iterator[Report]:
    """Do the job; yields the report so far, again and again, the whole one last.

    Time: exponential in the cells of the box in the worst case; loading is linear in the model.
    """
    began = time.process_time()
    v, cnf = _model(job.question, job.caps)
    solver = Cadical(cnf, job.seed)
    for clause in job.nogoods:
        solver.add(clause)
    report, judge = Report(), Judge(job.spec, job.needed)
    for cube in job.cubes:
        spent, undecided = 0, report.undecided
        while True:
            outcome = solver.solve(literals_of(v, cube), min(SLICE, job.conflicts))
            report.seconds = time.process_time() - began
            if outcome is False:
                settled = report.undecided == undecided
                (report.ruled_out if settled else report.open).append(cube)
                break
            if outcome and _judged(job, v, solver, judge, report) and not job.every:
                solver.close()
                yield report
                return
            spent += REFUSAL if outcome else SLICE
            if spent >= job.conflicts:
                report.open.append(cube)
                break
            yield report
    report.seconds = time.process_time() - began
    solver.close()
    yield report


_at_hand: list[tuple[Question, Vocabulary, Cnf]] = []
"""The model that was built last: jobs of one question come one after the other."""


def _model(question: Question, caps: Caps) -> tuple[Vocabulary, Cnf]:
    if not _at_hand or _at_hand[0][0] != question:
        v = model_of(replace(question, break_symmetry=False))  # the cubes break it
        _at_hand[:] = [(question, v, Cnf(v.clauses))]
    _, v, cnf = _at_hand[0]
    return v, caps.imposed(v, cnf)


def _judged(job: Job, v: Vocabulary, solver: Cadical, judge: Judge, report: Report) -> bool:
    """Judge the solver's candidate and add the no-good that follows; True if it is a layout."""
    report.admitted += 1
    candidate = layout_of(v, solver.holds, job.spec)
    proposal = judge.proposal(candidate)
    if proposal is None:
        report.refused += 1
        report.undecided += judge.undecided(candidate)
        by_finding = judge.refused_by_finding(candidate)
        solver.add(same_filling(v, solver.holds) if by_finding else same_lock(v, solver.holds))
        return False
    nogood = same_parts(v, solver.holds, box_cells(v, proposal.layout.parts))
    report.found.append(Found(proposal, tuple(nogood)))
    solver.add(nogood)
    return True
