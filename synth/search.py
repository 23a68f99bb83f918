"""The search for layouts of one scheme: a first one fast, then measure by measure down to the best, then others.

1. *First*: boxes with some room to spare, straight rows (of long ones with repeating columns) before free ones, in
   rounds of growing effort, until the simulator has confirmed one layout.
2. *Descent* (``synth/exact``): the ranking's measures in their order, each as low as it goes, everything free; every
   step with its proof or its bound.
3. *Others*: different layouts in the best box, until K are there.

``tighter`` leaves out the first stage and the last. ``synth/propose`` goes through the schemes.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Final

from synth.attempts import LONG_ROW, Attempt, attempts_at_a_first
from synth.box_search import BoxSearch, Counts
from synth.exact.cadical import SOLVER as EXACT_SOLVER
from synth.exact.crew import Crew
from synth.exact.descent import Descent
from synth.exact.ledger import Ledger, digest_of, opened
from synth.images import canonical_key
from synth.judge import Judge
from synth.measures import rank_key
from synth.model.question import Question
from synth.plots import Size, is_open, sizes, volume, windows
from synth.request import Request
from synth.result import Answer, Claim, Proposal
from synth.schemes.registry import scheme_of
from synth.scope import scope_of
from synth.solver import SOLVER, AnyOf, Effort, Outcome
from synth.spec import Spec

FIRST_SLICE_S: Final = 20.0
"""Seconds for one attempt in the first round of the search for a first layout; each round doubles it."""
FIRST_SLICE_OUTPUTS: Final = 4
"""Outputs up to which that is enough; longer rows get more in proportion."""
OBSTACLES_SHARE: Final = 0.3
"""Share of the time that is kept, while nothing is found, for telling what stands in the way."""
FIRST_SHARE: Final = 0.75
"""Share of the rest for the first stage, before the site as a whole is searched exactly; and for long rows, of which an
exact search of a whole site rarely comes to an end."""
FIRST_SHARE_LONG: Final = 0.9
OTHERS_SHARE: Final = 0.2
"""Share of the time left after the first layout that is kept for different ones."""

SAVED_EVERY_S: Final = 2.0
"""Seconds between two writings of the ledger."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of one question."""

    outcome: Outcome
    proposal: Proposal | None
    counts: Counts
    seconds: float


class Search:
    """One search. ``spec``: with its scheme pinned; ``handovers``: under which a layout must work. ``known``: layouts
    of other schemes or of the user's that are to be bettered.

    Raises InputError when the request's ledger cannot be read or written, or is another question's.
    """

    def __init__(
        self, spec: Spec, request: Request, handovers: tuple[int, ...], known: Sequence[Proposal] = ()
    ) -> None:
        self.spec, self.request, self.handovers = spec, request, handovers
        self.began = time.monotonic()
        self.within = windows(spec, self.handovers)
        self.answer = Answer(
            scope=scope_of(spec, self.within, self.handovers),
            solver=f"{SOLVER}, {EXACT_SOLVER}",
            schemes=(scheme_of(spec).name,),
        )
        self._limit_s = request.limit_s
        self._keys: set[object] = set()
        self._claims: list[Claim] = []  # of the first stage
        self._ledger, self._saved = self._opened(), 0.0
        for proposal in known:
            self._keep(proposal, told=False)

    # -- the whole ----------------------------------------------------------------------------------------------------

    def run(self) -> Answer:
        """The three stages, as far as time and Ctrl-C let them."""
        with Crew(self.request.workers, self.request.mebibytes) as crew:
            descent = self._descent(crew, self._all_sizes())
            self._find_any(descent, self.request.limit_s * (1 - OBSTACLES_SHARE))
            self._limit_s = self.request.limit_s
            if self.answer.proposals:
                descent.deadline = time.monotonic() + self._left() * (1 - OTHERS_SHARE)
                settled = descent.run()
                descent.deadline = time.monotonic() + self._left()
                self.answer.complete = self._others(descent) and settled
            self._conclude(descent)
        del self.answer.proposals[self.request.top :]
        return self._ended()

    def run_first(self) -> Answer:
        """Any layout, or a proof that there is none."""
        with Crew(self.request.workers, self.request.mebibytes) as crew:
            descent = self._descent(crew, self._all_sizes())
            self._find_any(descent, self.request.limit_s)
            self._conclude(descent)
        return self._ended()

    def run_exact(self, boxes: Sequence[Size] | None) -> Answer:
        """The descent alone, in these boxes (None: in every box of the site)."""
        with Crew(self.request.workers, self.request.mebibytes) as crew:
            descent = self._descent(crew, self._all_sizes() if boxes is None else list(boxes))
            self.answer.complete = descent.run()
            self._conclude(descent)
        return self._ended()

    def _find_any(self, descent: Descent, within: float) -> None:
        """A first layout, or a proof that the site holds none (empty cells around a build change nothing), ``within``
        so many seconds from the beginning of the search."""
        self._limit_s = within * (FIRST_SHARE if self.spec.outputs < LONG_ROW else FIRST_SHARE_LONG)
        if self.answer.proposals or not descent.sizes or self.first():
            return
        self._limit_s = within
        self.request.told("is there any layout in the site at all?")
        self.answer.complete = descent.anything(time.monotonic() + self._left())

    def _descent(self, crew: Crew, boxes: list[Size]) -> Descent:
        """The exact search, with what the ledger holds."""
        deadline = time.monotonic() + self._left()
        descent = Descent(
            self.spec, self.request, self.handovers, crew, self._keep, self._best_or_none, boxes, deadline, self._noted
        )
        if self._ledger is not None:
            for claim in self._ledger.closed:
                descent.rule_out(claim)
            self._ledger.restore(descent.boxes, descent.caps)
            descent.budget = max(descent.budget, self._ledger.conflicts)
            judge = Judge(self.spec, self.handovers)
            for layout in self._ledger.layouts:
                if judge.takes(layout):
                    self._keep(judge.as_it_is(layout))
        return descent

    def _all_sizes(self) -> list[Size]:
        return sizes(self.spec, volume)

    def _conclude(self, descent: Descent) -> None:
        """Everything that is known, in order."""
        if not descent.sizes:
            note = "the row and what hangs on it need more cells than the site has"
            self._claims.append(Claim(self.spec.size, "none exists", 0.0, self.handovers, note=note))
        known = {(claim.box, claim.parts, claim.price) for claim in descent.claims.values()}
        self.answer.claims = [one for one in self._claims if (one.box, one.parts, one.price) not in known]
        self.answer.claims += descent.claims.values()
        (scheme,) = self.answer.schemes
        self.answer.claims = [replace(one, scheme=scheme) for one in self.answer.claims]
        self.answer.steps = descent.steps
        self.answer.proposals.sort(key=self._rank)
        self._save(descent)

    def _ended(self) -> Answer:
        self.answer.seconds = time.monotonic() - self.began
        return self.answer

    # -- the first stage ----------------------------------------------------------------------------------------------

    def first(self) -> bool:
        """Stage 1; True when a layout was found. That none is proves nothing: its questions are narrower."""
        slice_s = FIRST_SLICE_S * max(1.0, self.spec.outputs / FIRST_SLICE_OUTPUTS)
        groups = attempts_at_a_first(self.spec, self.within)
        attempts = groups.pop(0)
        while attempts and not self._over():
            self.request.told(f"looking for a first layout, {slice_s:.0f} s for each of {len(attempts)} attempts")
            open_ones = []
            for attempt, tried in self._in_parallel(attempts, slice_s):
                if tried.proposal is not None:
                    self._keep(tried.proposal)
                    return True
                if tried.outcome == "stopped":
                    open_ones.append(attempt)
            attempts = open_ones + (groups.pop(0) if groups else [])
            slice_s *= 2
        return False

    def _in_parallel(self, attempts: Sequence[Attempt], limit_s: float) -> Iterator[tuple[Attempt, Tried]]:
        """Try all, as many at once as there are workers; told in the order given, whichever ends first.

        Closing the iterator ends the attempts that are still running.
        """
        enough = threading.Event()
        with ThreadPoolExecutor(self.request.workers) as pool:
            running = [pool.submit(self._try, question, limit_s, enough) for _, question in attempts]
            try:
                for attempt, future in zip(attempts, running, strict=True):
                    yield attempt, future.result()
            finally:
                enough.set()
                for future in running:
                    future.cancel()

    def _try(self, question: Question, limit_s: float, enough: threading.Event) -> Tried:
        stop = AnyOf(self.request.stop, enough)
        if stop.is_set() or self._left() <= 0:
            return Tried("stopped", None, Counts(), 0.0)
        search = BoxSearch(self.spec, question, self.handovers)
        outcome, proposal = search.next(Effort(min(limit_s, self._left()), self.request.seed, stop))
        return Tried(outcome, proposal, search.counts, search.seconds)

    # -- the last stage -----------------------------------------------------------------------------------------------

    def _others(self, descent: Descent) -> bool:
        """Different layouts in the best box until K are there; True when they are, or there are no more."""
        size = self._as_site_size(self._best().measures.box)
        while len(self.answer.proposals) < self.request.top and not self._over():
            self.request.told(f"another layout in {_text(size)}")
            if not descent.another(size):
                break
        return not self._over()

    # -- pieces -------------------------------------------------------------------------------------------------------

    def _keep(self, proposal: Proposal, *, told: bool = True) -> None:
        """Add a layout, unless it is an image of one that is there."""
        key = canonical_key(proposal.layout)
        if key not in self._keys:
            self._keys.add(key)
            self.answer.proposals.append(proposal)
            if told:
                self.request.found(proposal)

    def _rank(self, proposal: Proposal) -> tuple[float, ...]:
        return rank_key(proposal.measures, self.spec.order)

    def _best(self) -> Proposal:
        return min(self.answer.proposals, key=self._rank)

    def _best_or_none(self) -> Proposal | None:
        return self._best() if self.answer.proposals else None

    def _as_site_size(self, box: Size) -> Size:
        """The shape under which the site lists a box."""
        return (max(box[:2]), min(box[:2]), box[2]) if is_open(self.spec) else box

    def _noted(self, descent: Descent) -> None:
        """News of the exact search: told, and kept from time to time."""
        self.request.ladder(descent.ladder())
        if time.monotonic() - self._saved > SAVED_EVERY_S:
            self._save(descent)

    def _opened(self) -> Ledger | None:
        path = self.request.ledger
        return None if path is None else opened(path, digest_of(self.spec, self.handovers, self.within))

    def _save(self, descent: Descent) -> None:
        self._saved = time.monotonic()
        if self._ledger is not None:
            closed = [claim for claim in descent.claims.values() if claim.verdict == "none exists"]
            layouts = [one.layout for one in self.answer.proposals]
            self._ledger.save(closed, descent.boxes, layouts, descent.budget)

    def _left(self) -> float:
        return max(0.0, self._limit_s - (time.monotonic() - self.began))

    def _over(self) -> bool:
        return self.request.stop.is_set() or self._left() <= 0


def _text(size: Size) -> str:
    return "x".join(map(str, size))
