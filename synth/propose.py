"""Propose layouts for a spec: a first one fast, then tighter boxes, then better and different ones in the best box.

1. *First*: boxes with some room to spare, straight rows (of long ones with repeating columns) before free ones, in
   rounds of growing effort, until the simulator has confirmed one layout.
2. *Tighter*: every box that the spec's first measure prefers to the best layout's, smallest first, everything free.
   A box is ruled out only by a proof.
3. *Better*: in the best box fewer parts each time, then others, until K different layouts are there.
"""

from __future__ import annotations

import threading
import time
from collections import Counter, defaultdict, deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Final

from synth.attempts import Attempt, attempts_at_a_first
from synth.box_search import BoxSearch, Counts
from synth.images import canonical_key
from synth.measures import rank_key
from synth.model.question import Question
from synth.plots import Size, is_open, plots, question_for, sizes, windows
from synth.request import Request
from synth.result import Answer, Claim, Proposal, Verdict
from synth.scope import needed_handovers, scope_of
from synth.solver import SOLVER, AnyOf, Effort, Outcome
from synth.spec import Spec

FIRST_SLICE_S: Final = 20.0
"""Seconds for one attempt in the first round of the search for a first layout; each round doubles it."""
FIRST_SLICE_OUTPUTS: Final = 4
"""Outputs up to which that is enough; longer rows get more in proportion."""
OBSTACLES_SHARE: Final = 0.3
"""Share of the time that is kept, while nothing is found, for telling what stands in the way."""
TIGHTER_SHARE: Final = 0.6
"""Share of the time left that goes into tighter boxes before the best box is worked on."""
FEWER_PARTS_SHARE: Final = 0.6
"""Share of the time then left that goes into layouts with fewer parts."""
TIGHTER_SLICE_S: Final = 10.0
"""Seconds for one box in the first round of stage 2; each round doubles it."""


def propose(spec: Spec, request: Request) -> Answer:
    """Ranked layouts for ``spec``, each confirmed in the simulator, and claims on the boxes searched."""
    return _with_fallback(spec, request, _Search.run)


def first_layout(spec: Spec, request: Request) -> Answer:
    """Only the first stage: any confirmed layout, or a proof that the site holds none, or neither in the time given."""
    return _with_fallback(spec, request, _Search.run_first)


def _with_fallback(spec: Spec, request: Request, run: Callable[[_Search], Answer]) -> Answer:
    """Search for layouts that work under every known handover; where none turns up, under the one in force alone."""
    needed = needed_handovers(spec)
    answer = run(_Search(spec, request, needed))
    left = request.limit_s - answer.seconds
    if answer.proposals or len(needed) == 1 or left <= 0 or request.stop.is_set():
        return answer
    again = run(_Search(spec, replace(request, limit_s=left), (spec.rules.handover,)))
    again.claims = answer.claims + again.claims
    again.seconds += answer.seconds
    return again


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of one question."""

    outcome: Outcome
    proposal: Proposal | None
    counts: Counts
    seconds: float


class _Search:
    def __init__(self, spec: Spec, request: Request, handovers: tuple[int, ...]) -> None:
        self.spec, self.request, self.handovers = spec, request, handovers
        self.began = time.monotonic()
        self.window = windows(spec, self.handovers)
        self.answer = Answer(scope=scope_of(spec, self.window, self.handovers), solver=SOLVER)
        self.measure = _size_measure(spec.order[0])
        self._limit_s = request.limit_s
        self._keys: set[object] = set()
        self._ruled_out: set[Size] = set()
        self._cut = False  # some attempt was stopped by a limit or Ctrl-C

    # -- the whole ----------------------------------------------------------------------------------------------------

    def run(self) -> Answer:
        """The three stages, as far as time and Ctrl-C let them."""
        self._limit_s = self.request.limit_s * (1 - OBSTACLES_SHARE)
        self.run_first()
        self._limit_s = self.request.limit_s
        if self.answer.proposals:
            self._tighter()
            self._better()
        self.answer.proposals.sort(key=self._rank)
        del self.answer.proposals[self.request.top :]
        return self._ended()

    def run_first(self) -> Answer:
        """The first stage alone."""
        if not self.first():
            self.whole_site()
        return self._ended()

    def _ended(self) -> Answer:
        self.answer.seconds = time.monotonic() - self.began
        self.answer.complete = not self._cut
        return self.answer

    def first(self) -> bool:
        """Stage 1; True when a layout was found."""
        slice_s = FIRST_SLICE_S * max(1.0, self.spec.outputs / FIRST_SLICE_OUTPUTS)
        groups = attempts_at_a_first(self.spec, self.window)
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
                elif attempt[1].straight is None and len(plots(self.spec, attempt[0])) == 1:
                    self._claim(attempt[0], [tried])
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
            self._cut |= not enough.is_set()
            return Tried("stopped", None, Counts(), 0.0)
        search = BoxSearch(self.spec, question, self.handovers)
        outcome, proposal = search.next(Effort(min(limit_s, self._left()), self.request.seed, stop))
        self._cut |= outcome == "stopped" and not enough.is_set()
        return Tried(outcome, proposal, search.counts, search.seconds)

    def whole_site(self) -> None:
        """Nothing found: is there a proof that nothing fits the site? (Empty cells around a build change nothing.)"""
        whole = sizes(self.spec, lambda size: -size[0] * size[1] * size[2])
        if not whole:
            note = "the row and what hangs on it need more cells than the site has"
            self.answer.claims.append(Claim(self.spec.size, "none exists", 0.0, self.handovers, note=note))
            return
        if whole[0] not in self._ruled_out and not self._over():
            deque(self._searched(whole[:1], self._left()), maxlen=0)

    def _tighter(self) -> None:
        """Stage 2: rounds of growing effort over the boxes that would be better, smallest first."""
        end = time.monotonic() + self._left() * TIGHTER_SHARE
        waiting = [s for s in sizes(self.spec, self.measure) if s not in self._ruled_out]
        slice_s = TIGHTER_SLICE_S
        while waiting and not self._over() and time.monotonic() < end:
            waiting = [size for size in waiting if self.measure(size) < self._best_size_measure()]
            open_ones = []
            for size, verdict in self._searched(waiting, min(slice_s, end - time.monotonic())):
                if verdict == "open":
                    open_ones.append(size)
                if verdict == "found" or time.monotonic() >= end:
                    break
            open_ones += [size for size in waiting if size not in self._ruled_out and size not in open_ones]
            waiting = sorted(open_ones, key=lambda size: (self.measure(size), size))
            slice_s *= 2

    def _searched(self, waiting: Sequence[Size], limit_s: float) -> Iterator[tuple[Size, Verdict]]:
        """The verdict on each size, everything free, at every place that differs; adds a claim for each."""
        attempts = [
            (size, question_for(self.spec, plot, self.window)) for size in waiting for plot in plots(self.spec, size)
        ]
        left = Counter(size for size, _ in attempts)
        tried: dict[Size, list[Tried]] = defaultdict(list)
        self.request.told(f"is there a tighter one? {len(waiting)} boxes, from {_text(waiting[0])}" if waiting else "")
        for (size, _), one in self._in_parallel(attempts, limit_s):
            tried[size].append(one)
            if one.proposal is not None:
                self._keep(one.proposal)
            left[size] -= 1
            if one.proposal is not None or not left[size]:
                yield size, self._claim(size, tried[size])

    def _better(self) -> None:
        """Stage 3: fewer parts in the best box, then others there. One claim speaks for every place of the box."""
        size = self._best().measures.box
        questions = [question_for(self.spec, plot, self.window) for plot in plots(self.spec, self._as_site_size(size))]
        ends = [self._fewer_parts(size, question) for question in questions]
        self._claim(size, ends, parts=self._best().measures.parts - 1)
        for question in questions:
            self._others(size, question)

    def _fewer_parts(self, size: Size, question: Question) -> Tried:
        """Ask for one part less than the best has, again and again; returns what ended that.

        Where that is "none exists", it holds for all that is asked later too: the best only gets better.
        """
        if self._over():
            self._cut = True
            return Tried("stopped", None, Counts(), 0.0)
        search = BoxSearch(self.spec, question, self.handovers)
        end = time.monotonic() + self._left() * FEWER_PARTS_SHARE
        while True:
            most = self._best().measures.parts - 1
            self.request.told(f"{_text(size)} with at most {most} parts?")
            search.at_most_parts(most)
            outcome, proposal = search.next(self._effort(end - time.monotonic()))
            if proposal is None:
                self._cut |= outcome == "stopped"
                return Tried(outcome, None, search.counts, search.seconds)
            self._keep(proposal)

    def _others(self, size: Size, question: Question) -> None:
        """Different layouts in the same box until K are there."""
        if len(self.answer.proposals) >= self.request.top:
            return
        search = BoxSearch(self.spec, question, self.handovers)
        while len(self.answer.proposals) < self.request.top and not self._over():
            self.request.told(f"another layout in {_text(size)}")
            outcome, proposal = search.next(self._effort(self._left()))
            self._cut |= outcome == "stopped"
            if proposal is None:
                return
            self._keep(proposal)

    # -- pieces -------------------------------------------------------------------------------------------------------

    def _claim(self, size: Size, tried: Sequence[Tried], parts: int | None = None) -> Verdict:
        """Note what the attempts on one box come to: none exists only if each was proved so, no candidate refused."""
        counts = Counts()
        for one in tried:
            counts.add(one.counts)
        verdict: Verdict = "none exists"
        note = ""
        if any(one.proposal is not None for one in tried):
            verdict = "found"
        elif any(one.outcome != "none exists" for one in tried) or counts.refused:
            verdict = "open"
            note = "candidates were refused by the simulator" if counts.refused else "stopped by the time limit"
        seconds = sum(one.seconds for one in tried)
        claim = Claim(size, verdict, seconds, self.handovers, parts, counts.admitted, counts.refused, note)
        self.answer.claims = [old for old in self.answer.claims if (old.box, old.parts) != (size, parts)] + [claim]
        if verdict == "none exists" and parts is None:
            self._ruled_out.add(size)
        return verdict

    def _keep(self, proposal: Proposal) -> None:
        """Add a layout, unless it is an image of one that is there."""
        key = canonical_key(proposal.layout)
        if key not in self._keys:
            self._keys.add(key)
            self.answer.proposals.append(proposal)
            self.request.found(proposal)

    def _rank(self, proposal: Proposal) -> tuple[float, ...]:
        return rank_key(proposal.measures, self.spec.order)

    def _best(self) -> Proposal:
        return min(self.answer.proposals, key=self._rank)

    def _best_size_measure(self) -> float:
        return self.measure(self._best().measures.box)

    def _as_site_size(self, box: Size) -> Size:
        """The shape under which the site lists a box."""
        return (max(box[:2]), min(box[:2]), box[2]) if is_open(self.spec) else box

    def _effort(self, seconds: float) -> Effort:
        request = self.request
        return Effort(min(seconds, self._left()), request.seed, request.stop)

    def _left(self) -> float:
        return max(0.0, self._limit_s - (time.monotonic() - self.began))

    def _over(self) -> bool:
        return self.request.stop.is_set() or self._left() <= 0


def _size_measure(name: str) -> Callable[[Size], float]:
    """The ranking's first measure as far as a box alone tells it (volume, footprint, height; else volume)."""
    if name == "footprint":
        return lambda size: size[0] * size[1]
    if name == "height":
        return lambda size: size[2]
    return lambda size: size[0] * size[1] * size[2]


def _text(size: Size) -> str:
    return "x".join(map(str, size))
