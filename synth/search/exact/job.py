"""One piece of a search, small enough to hand to another process: some cubes of one question, under caps.

The one loop of all searches for splits: solve, judge, cut out what was refused or found. Which solver it is, and
whether the search is narrowed, is the job's affair.
"""

from __future__ import annotations

import time
from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Final, Literal, Protocol

from sim.world.geometry import Cell
from sim.world.layout import Layout
from synth.ask.spec import Spec
from synth.confirm.judge import Judge
from synth.confirm.proposal import Proposal
from synth.model.build import model_of
from synth.model.clauses import Lit
from synth.model.decode import box_cells, layout_of
from synth.model.likeness import same_literals
from synth.model.question import Question
from synth.model.vocabulary import Vocabulary
from synth.search.exact.caps import Caps
from synth.search.exact.cubes import literals_of
from synth.search.exact.needless import leave_out_needless
from synth.search.exact.walks import Walk
from synth.solving.budget import Budget, Outcome
from synth.solving.cadical import FOR_CUBES, Cadical
from synth.solving.cnf import KINDS_IN_PAIRS, Cnf
from synth.solving.cuts import same_filling, same_lock, same_parts
from synth.solving.leaning import Leaning
from synth.solving.settling import Settling, settling

SLICE: Final = 5_000
"""Conflicts between two looks at whether anybody still waits for the answer."""
FAR_S: Final = 1e9
"""Seconds that end nothing: a job's budget is in conflicts."""
MODELS_KEPT: Final = 6
REFUSAL: Final = 200
"""What a refused candidate counts for in a cube's budget of conflicts."""


Engine = Literal["CaDiCaL", "CP-SAT"]


class Solver(Protocol):
    """What the loop asks of a solver."""

    def add(self, clause: Sequence[Lit]) -> None:
        """At least one of the literals holds."""

    def solve(self, assumptions: Sequence[Lit] = (), conflicts: int | None = None) -> bool | None:
        """True: there is a solution; False: proved that there is none; None: budget used up."""

    def holds(self, lit: Lit) -> bool:
        """The value of a literal in the solution that was found last."""

    def close(self) -> None:
        """Give the memory back."""


@dataclass(frozen=True, slots=True)
class Near:
    """Only layouts that differ from ``layout`` (in the box's coordinates, its size the box) in cells of ``freed``."""

    layout: Layout
    freed: frozenset[Cell]


@dataclass(frozen=True, slots=True)
class Job:
    """Settle some cubes of a question, in their order.

    ``needed``: handovers under which a layout must work. ``caps``: bounds on parts and price. ``conflicts``: budget for
    each cube. ``every``: go on after a layout is found, until all are. ``nogoods``: clauses from earlier jobs of the
    same question. ``engine``: the solver; CP-SAT knows no assumptions, and takes the empty cube alone: any row.
    ``near`` narrows the search, and so does ``lines_told`` (``known.ways.locks_told``, along the one cube): that a
    narrowed job finds none is no proof of anything (``is_narrowed``), nor is it where the question itself is narrower
    than splitting needs. A job's result depends on nothing else.
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
    engine: Engine = "CaDiCaL"
    near: Near | None = None
    lines_told: bool = False

    @property
    def is_narrowed(self) -> bool:
        """What it rules out is ruled out among some layouts only."""
        q = self.question
        return self.near is not None or self.lines_told or q.row_unlocked or q.repeat is not None


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
    v, solver = _loaded(job)
    for clause in job.nogoods:
        solver.add(clause)
    report, judge = Report(), Judge(job.spec, job.needed)
    slice_of = job.conflicts if job.engine == "CP-SAT" else min(SLICE, job.conflicts)

    def solve(cube: Walk) -> bool | None:
        outcome = solver.solve(literals_of(v, cube), slice_of)
        report.seconds = time.process_time() - began
        return outcome

    for cube in job.cubes:
        budget, undecided = Budget(FAR_S, conflicts=job.conflicts), report.undecided
        while True:  # until nothing is left of the cube, or enough was found
            search = settling(
                partial(solve, cube), lambda: _judged(job, v, solver, judge, report), budget, slice_of, REFUSAL
            )
            outcome: Outcome = yield from _each(search, report)
            if outcome != "found" or not job.every:
                break
            budget.spend(conflicts=REFUSAL)
        if outcome == "found":
            break
        proved = outcome == "none exists" and report.undecided == undecided
        (report.ruled_out if proved else report.open).append(cube)
    report.seconds = time.process_time() - began
    solver.close()
    yield report


def _each(search: Settling[Found], report: Report) -> Generator[Report, None, Outcome]:
    """The report after each slice; what the loop comes to."""
    while True:
        try:
            next(search)
        except StopIteration as end:
            outcome: Outcome = end.value[0]
            return outcome
        yield report


def _loaded(job: Job) -> tuple[Vocabulary, Solver]:
    """The model of the job's question in the hands of its solver."""
    if job.engine == "CP-SAT":
        from synth.solving.cp_sat import CpSatEngine  # ortools takes memory: it is loaded where it is used alone

        v = model_of(job.question)
        return v, CpSatEngine(v.clauses, job.seed)
    if job.near is None:
        v, cnf = _model(job.question)
        loaded = Cadical(job.caps.imposed(v, cnf), job.seed, FOR_CUBES)
        if job.lines_told:
            from synth.search.known.ways import locks_told  # no proof rests on it

            for clause in locks_told(v, job.cubes[0]):
                loaded.add(clause)
        return v, loaded
    v = model_of(replace(job.question, break_symmetry=False))
    same = same_literals(v, job.near.layout)  # may add clauses
    solver = Leaning(job.caps.imposed(v, Cnf(v.clauses)), job.seed)
    for cell, lit in same.items():
        if cell not in job.near.freed:
            solver.add((lit,))
    solver.prefer(same.values())
    return v, solver


_at_hand: list[tuple[Question, Vocabulary, Cnf]] = []
"""The models used last: jobs of one question come one after the other, of several searches in turns."""


def _model(question: Question) -> tuple[Vocabulary, Cnf]:
    known = next((one for one in _at_hand if one[0] == question), None)
    if known is None:
        v = model_of(replace(question, break_symmetry=False))  # the cubes break it
        leave_out_needless(v)
        known = question, v, Cnf(v.clauses, KINDS_IN_PAIRS)
    else:
        _at_hand.remove(known)
    _at_hand[:] = [*_at_hand[1 - MODELS_KEPT :], known]
    return known[1:]


def _judged(job: Job, v: Vocabulary, solver: Solver, judge: Judge, report: Report) -> Found | None:
    """Judge the solver's candidate and add the no-good that follows; None if it is refused."""
    report.admitted += 1
    candidate = layout_of(v, solver.holds, job.spec)
    proposal = judge.proposal(candidate)
    if proposal is None:
        report.refused += 1
        report.undecided += judge.undecided(candidate)
        by_finding = judge.refused_by_finding(candidate)
        solver.add(same_filling(v, solver.holds) if by_finding else same_lock(v, solver.holds))
        return None
    nogood = same_parts(v, solver.holds, box_cells(v, proposal.layout.parts))
    report.found.append(found := Found(proposal, tuple(nogood)))
    solver.add(nogood)
    return found
