"""The search for layouts of one scheme, from several sources side by side, in one engine with those of other schemes.

- *The exact search* (``synth/search/exact``): boxes from the smallest up, then measure by measure down, with proofs,
  bounds.
- *A first layout*, while there is none: boxes with room to spare, narrower questions (``synth/search/attempts``).
- *Neighbourhoods* of the best one so far (``synth/search/neighbourhoods``): a window of it is free, and less is asked
  for.

The last two claim nothing. All of them put what they find on one board (``synth/search/board``).
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import islice
from typing import Final

from sim.world.layout import Layout
from synth.ask.spec import Spec
from synth.confirm.judge import Judge
from synth.confirm.proposal import Proposal
from synth.model.decode import items_of
from synth.model.plots import Size, sizes, volume, windows
from synth.schemes.registry import scheme_of
from synth.search.attempts import first_rounds
from synth.search.board import Board
from synth.search.exact.descent import Descent, growing
from synth.search.exact.job import Job, Report
from synth.search.exact.ledger import Ledger
from synth.search.exact.worker import JobEngine, JobShare
from synth.search.known.matching import fits
from synth.search.neighbourhoods import jobs_near
from synth.search.request import Request
from synth.search.result import Answer, Claim
from synth.search.scope import scope_of
from synth.solving.budget import AnyOf, Stop
from synth.solving.cadical import SOLVER

SAVED_EVERY_S: Final = 2.0
"""Seconds between two writings of the ledger."""
PROOF_BUDGET: Final = 300
"""Conflicts for each cube in the first round of a proof that there is no layout, between two rounds of attempts at one:
what can be ruled out mostly takes few, and there are many cubes."""
BESIDE: Final = 3.0
"""Share of what is beside the exact search, against that one: what answers first goes first."""
WAIT_S: Final = 0.2
"""Seconds between two looks at whether there is a better layout to look around."""


class Search:
    """One search. ``spec``: with its scheme pinned; ``handovers``: under which a layout must work; ``until``: of
    ``time.monotonic``; ``ledger``: what was settled before, and where it is kept. ``suggestions``: layouts in whose
    manner a first one may be found."""

    def __init__(
        self,
        spec: Spec,
        request: Request,
        handovers: tuple[int, ...],
        engine: JobEngine,
        board: Board,
        until: float,
        ledger: Ledger | None = None,
        noted: Callable[[Search], None] = lambda _: None,
        suggestions: Callable[[Spec], Iterator[Layout]] = lambda _: iter(()),
    ) -> None:
        self.spec, self.request, self.handovers, self.board, self.until = spec, request, handovers, board, until
        self.scheme = scheme_of(spec)
        self._engine, self._ledger, self._noted, self._saved = engine, ledger, noted, 0.0
        self._weight = 1 / self.scheme.gauges(spec.outputs)
        self._suggestions = suggestions
        self._done = threading.Event()
        self.within = windows(spec, handovers)
        self.settled = False
        self.descent: Descent | None = None
        self._fault: Exception | None = None
        self._in_vain: list[Job] = []

    # -- what it does -------------------------------------------------------------------------------------------------

    def run(self) -> None:
        """All sources, until all is settled or the time is over."""
        descent = self._begin(None)
        beside = threading.Thread(target=self._beside, daemon=True)
        beside.start()
        try:
            self.settled = descent.run()
        finally:
            self._done.set()
            beside.join()
        if self._fault is not None:
            raise self._fault
        self._save(descent)

    def run_first(self) -> None:
        """Any layout, or a proof that there is none."""
        descent, share = self._begin(None), self._engine.share(self._weight)
        self.settled = descent.anything(self.until, ())  # what is known may do
        rounds, budgets = self._rounds(), growing(PROOF_BUDGET)
        while not (self.settled or self._over() or self._tried(next(rounds, iter(())), share)):
            self.request.told("is there any layout in the site at all?")
            self.settled = descent.anything(self.until, islice(budgets, 1))
        self._done.set()

    def run_exact(self, boxes: Sequence[Size] | None) -> None:
        """The exact search alone, in these boxes (None: in every box of the site)."""
        descent = self._begin(boxes)
        self.settled = descent.run()
        self._done.set()
        self._save(descent)

    def rule_out(self, claims: Iterable[Claim]) -> None:
        """Take claims that no layout exists for granted, once the search has begun."""
        self._given = list(claims)

    _given: Sequence[Claim] = ()

    def answer(self) -> Answer:
        """All that it has come to so far (from any thread)."""
        answer = Answer(
            scope=scope_of(self.spec, self.within, self.handovers),
            solver=SOLVER,
            schemes=(self.scheme.name,),
            complete=self.settled,
        )
        if self.descent is None:
            return answer
        claims = [one for one in list(dict(self.descent.claims).values()) if fits(one.box, self.spec.size)]
        if not self.descent.sizes:
            note = "the row and what hangs on it need more cells than the site has"
            claims.append(Claim(self.spec.size, "none exists", 0.0, self.handovers, note=note))
        answer.claims = [replace(one, scheme=self.scheme.name) for one in claims]
        answer.steps = list(self.descent.steps)
        if not answer.steps and (low := self.descent.low_of(self.spec.order[0])) is not None:
            answer.lows = {self.spec.order[0]: low}
        return answer

    # -- the sources --------------------------------------------------------------------------------------------------

    def _begin(self, boxes: Sequence[Size] | None) -> Descent:
        """The exact search, with what is known before it begins."""
        descent = Descent(
            self.spec, self.request, self.handovers, self._engine.share(self._weight), self.board.put, self._best,
            sizes(self.spec, volume) if boxes is None else list(boxes), self.until, self._changed,
        )  # fmt: skip
        for claim in self._given:
            descent.rule_out(claim)
        if self._ledger is not None:
            for claim in self._ledger.closed:
                descent.rule_out(claim)
            self._ledger.restore(descent.boxes, descent.caps)
            descent.budget = max(descent.budget, self._ledger.conflicts)
            judge = Judge(self.spec, self.handovers)
            for kept in self._ledger.layouts:
                layout = replace(kept, items=items_of(self.spec))  # in the order that the spec has them
                if judge.takes(layout):
                    self.board.put(judge.as_it_is(layout))
        self.descent = descent
        return descent

    def _beside(self) -> None:
        """Beside the exact search: a first layout, then what is near the best one."""
        share = self._engine.share(self._weight * BESIDE)
        try:
            if self.first(share):
                self._near(share)
        except Exception as fault:
            self._fault = fault

    def first(self, share: JobShare) -> bool:
        """Until there is a layout; False when the time is over, or no attempt is left (which proves nothing)."""
        return any(self._tried(jobs, share) for jobs in self._rounds()) or self._best() is not None

    def _rounds(self) -> Iterator[Iterator[Job]]:
        """Attempts at a first layout."""
        return first_rounds(self.spec, self.within, self._job, self._suggestions(self.spec))

    def _tried(self, jobs: Iterator[Job], share: JobShare) -> bool:
        """One round of attempts; True when there is a layout."""
        begun = _Found(self._best, self._done)
        if self._best() is None:
            for report in self._reports(share, jobs, self._or_stop(begun)):
                for found in report.found:
                    self.board.put(found.proposal)
                if self._best() is not None:
                    return True
        return self._best() is not None

    def _near(self, share: JobShare) -> None:
        """Around the best layout, again and again, until the exact search is done."""
        while not self._over() and (best := self._best()) is not None:
            better = _Found(lambda best=best: self._best() is not best, self._done)  # type: ignore[misc]
            jobs = jobs_near(best, self.spec, self.within, self._job)
            for report in self._reports(share, jobs, self._or_stop(better)):
                for found in report.found:
                    self.board.put(found.proposal)
                if self._best() is not best:
                    break
            while self._best() is best and not self._over():
                self._done.wait(WAIT_S)

    def _reports(self, share: JobShare, jobs: Iterator[Job], stop: Stop) -> Iterator[Report]:
        """Each job's report; what was ruled out with a smaller budget is not asked again."""
        drawn: deque[Job] = deque()

        def fresh() -> Iterator[Job]:
            for job in jobs:
                if stop.is_set() or self._over():
                    return
                if not any(job == replace(one, conflicts=job.conflicts) for one in self._in_vain):
                    drawn.append(job)
                    yield job

        for report in share.results(fresh(), stop, self.until):
            job = drawn.popleft()
            if report.ruled_out:
                self._in_vain.append(job)
            yield report

    def _job(self, **asked: object) -> Job:
        """A job of this search."""
        return Job(spec=self.spec, needed=self.handovers, seed=self.request.seed, **asked)  # type: ignore[arg-type]

    # -- pieces -------------------------------------------------------------------------------------------------------

    def _best(self) -> Proposal | None:
        return self.board.best(self.scheme.name, self.handovers)

    def _over(self) -> bool:
        return self._done.is_set() or self.request.stop.is_set() or time.monotonic() >= self.until

    def _or_stop(self, other: _Found) -> AnyOf:
        return AnyOf(self.request.stop, other)

    def _changed(self, descent: Descent) -> None:
        """News of the exact search: told, and kept from time to time."""
        self._noted(self)
        if time.monotonic() - self._saved > SAVED_EVERY_S:
            self._save(descent)

    def _save(self, descent: Descent) -> None:
        self._saved = time.monotonic()
        if self._ledger is not None and not self.board.is_closed:  # what a closed board did not take is not settled
            closed = [claim for claim in descent.claims.values() if claim.verdict == "none exists"]
            mine = [one.layout for one in self.board.all() if one.scheme == self.scheme.name]
            self._ledger.save(closed, descent.boxes, mine, descent.budget)


class _Found:
    """Set as soon as there is something, or another search is done."""

    def __init__(self, there: Callable[[], object], done: threading.Event) -> None:
        self._there, self._done = there, done

    def is_set(self) -> bool:
        """The end is asked for."""
        return self._done.is_set() or bool(self._there())
