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
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Final

from sim.geometry import Direction
from synth.box_search import BoxSearch, Counts
from synth.confirm import handovers_to_try
from synth.images import canonical_key
from synth.measures import rank_key
from synth.model.question import DelayWindow, Question
from synth.plots import Plot, Size, is_open, plots, question_for, rows_of, sizes, windows
from synth.result import Answer, Claim, Proposal, Verdict
from synth.scheme import NAME, head_window
from synth.solver import SOLVER, Effort
from synth.spec import Spec

FIRST_SLICE_S: Final = 20.0
"""Seconds for one box in the first round of the search for a first layout; each round doubles it."""
LONG_ROW: Final = 5
"""Outputs from which straight rows with repeating columns are tried before free ones."""
OBSTACLES_SHARE: Final = 0.3
"""Share of the time that is kept, while nothing is found, for telling what stands in the way."""
TIGHTER_SHARE: Final = 0.6
"""Share of the time left that goes into tighter boxes before the best box is worked on."""

Told = Callable[[str], None]
"""Called with one line on what is being done."""


@dataclass(slots=True)
class Request:
    """How a search is to run: K layouts, seconds in all, parallel workers, seed, and who wants to know.

    ``found`` is called with each confirmed layout as it comes; ``stop`` ends the search and keeps what was found.
    """

    top: int = 3
    limit_s: float = 60.0
    workers: int = 2
    seed: int = 0
    told: Told = field(default=lambda _: None)
    found: Callable[[Proposal], None] = field(default=lambda _: None)
    stop: threading.Event = field(default_factory=threading.Event)


def propose(spec: Spec, request: Request) -> Answer:
    """Ranked layouts for ``spec``, each confirmed in the simulator, and claims on the boxes searched."""
    return _Search(spec, request).run()


def first_layout(spec: Spec, request: Request) -> Answer:
    """Only the first stage: any confirmed layout, or a proof that the site holds none, or neither in the time given."""
    search = _Search(spec, request)
    if not search.first():
        search.whole_site()
    return search.answer


def needed_handovers(spec: Spec) -> tuple[int, ...]:
    """The handovers a layout must work under: all known ones where the row's delays allow it, else the one in force."""
    every = handovers_to_try(spec.rules)
    window = windows(spec, every)
    unit = spec.rules.gauge_delay
    possible = window.least <= window.most and window.most // unit * unit >= window.least
    return every if possible else (spec.rules.handover,)


def scope_of(spec: Spec, window: DelayWindow, handovers: tuple[int, ...]) -> list[str]:
    """What every claim of a search is about, in sentences."""
    rules = spec.rules
    also = "" if len(handovers) > 1 else "; a row this long cannot work under the other handover with one lock for all"
    return [
        f"scheme: {NAME}, horizontal steps, every B node locked by signals from gauges on T0 and TN only",
        f"wiring without feedback or latched relays, chains of at most {head_window(rules).most} ticks, "
        f"from TN to the locks {window.least} to {window.most} ticks",
        f"rulebook: {spec.rulebook.title}; handover {' and '.join(map(str, handovers))}{also}",
        "even for loads that are there at once; trickling input was not tried",
    ]


class _Search:
    def __init__(self, spec: Spec, request: Request) -> None:
        self.spec, self.request = spec, request
        self.began = time.monotonic()
        self.handovers = needed_handovers(spec)
        self.window = windows(spec, self.handovers)
        self.answer = Answer(scope=scope_of(spec, self.window, self.handovers), solver=SOLVER)
        self.measure = _size_measure(spec.order[0])
        self._limit_s = request.limit_s
        self._keys: set[object] = set()
        self._ruled_out: set[Size] = set()

    # -- the whole ----------------------------------------------------------------------------------------------------

    def run(self) -> Answer:
        """The three stages, as far as time and Ctrl-C let them."""
        self._limit_s = self.request.limit_s * (1 - OBSTACLES_SHARE)
        if not self.first():
            self.whole_site()
        self._limit_s = self.request.limit_s
        if self.answer.proposals:
            self._tighter()
            self._better()
        self.answer.proposals.sort(key=self._rank)
        del self.answer.proposals[self.request.top :]
        self.answer.seconds = time.monotonic() - self.began
        self.answer.complete = not self._over()
        return self.answer

    def first(self) -> bool:
        """Stage 1; True when a layout was found."""
        slice_s = FIRST_SLICE_S
        attempts = list(self._attempts())
        while attempts and not self._over():
            open_ones = []
            for size, question in attempts:
                if self._over():
                    return False
                self.request.told(f"looking for a first layout in {_text(size)}")
                search = BoxSearch(self.spec, question, self.handovers)
                outcome, proposal = search.next(self._effort(slice_s))
                if proposal is not None:
                    self._keep(proposal)
                    return True
                free = question.straight is None
                alone = len(plots(self.spec, size)) == 1
                if outcome == "none exists" and free and alone and not search.counts.refused:
                    self._claim(size, "none exists", search.seconds, search.counts)
                    self._ruled_out.add(size)
                elif outcome == "stopped":
                    open_ones.append((size, question))
            attempts, slice_s = open_ones, slice_s * 2
        return False

    def _attempts(self) -> Iterator[tuple[Size, Question]]:
        """Boxes and questions for the first stage, the most promising first."""
        roomy = [size for size in self._roomy_sizes()]
        n = self.spec.outputs
        for repeating in (True, False):
            for size in roomy:
                for plot in plots(self.spec, size)[:2]:
                    for row in rows_of(plot, n):
                        question = question_for(self.spec, plot, self.window, straight=row)
                        if repeating and n >= LONG_ROW:
                            yield size, replace(question, repeat=_repeating_columns(plot, row, n))
                        elif not repeating and (n >= LONG_ROW or not is_open(self.spec)):
                            yield size, question
            if not repeating or n < LONG_ROW:
                for size in roomy:
                    for plot in plots(self.spec, size)[:4]:
                        yield size, question_for(self.spec, plot, self.window)

    def _roomy_sizes(self) -> list[Size]:
        """Shapes with about the room that a row of N needs, then the whole site."""
        n = self.spec.outputs
        every = sizes(self.spec, lambda size: size[0] * size[1] * size[2])
        enough = [s for s in every if s[0] * s[1] * s[2] >= (n + 1) * 12 and max(s[0], s[1]) <= n + 3]
        chosen = enough[:2] + every[-1:]
        return list(dict.fromkeys(chosen))

    def whole_site(self) -> None:
        """Nothing found: is there a proof that nothing fits the site? (Empty cells around a build change nothing.)"""
        whole = sizes(self.spec, lambda size: -size[0] * size[1] * size[2])
        if not whole:
            note = "the row and what hangs on it need more cells than the site has"
            self.answer.claims.append(Claim(self.spec.size, "none exists", 0.0, note=note))
            return
        if whole[0] not in self._ruled_out and not self._over():
            self._search_box(whole[0], self._left())

    def _tighter(self) -> None:
        """Stage 2."""
        end = time.monotonic() + self._left() * TIGHTER_SHARE
        waiting = [s for s in sizes(self.spec, self.measure) if s not in self._ruled_out]
        slice_s = 5.0
        while waiting and not self._over() and time.monotonic() < end:
            open_ones = []
            for size in waiting:
                if self._over() or time.monotonic() >= end or self.measure(size) >= self._best_size_measure():
                    break
                self.request.told(f"is there a tighter one in {_text(size)}?")
                if self._search_box(size, min(slice_s, end - time.monotonic())) == "open":
                    open_ones.append(size)
            waiting, slice_s = open_ones, slice_s * 3

    def _better(self) -> None:
        """Stage 3: fewer parts in the best box, then others there, then others elsewhere."""
        size = self._best().measures.box
        for plot in plots(self.spec, self._as_site_size(size)):
            search = BoxSearch(self.spec, question_for(self.spec, plot, self.window), self.handovers)
            most = self._best().measures.parts - 1
            while not self._over():
                self.request.told(f"fewer than {most + 1} parts in {_text(size)}?")
                search.at_most_parts(most)
                enough = len(self.answer.proposals) >= self.request.top
                outcome, proposal = search.next(self._effort(self._left() if enough else self._left() / 2))
                if proposal is None:
                    self._claim(size, _verdict(outcome, search.counts), search.seconds, search.counts, parts=most)
                    break
                self._keep(proposal)
                most = min(most, proposal.measures.parts) - 1
        for plot in plots(self.spec, self._as_site_size(size)):
            self._others(BoxSearch(self.spec, question_for(self.spec, plot, self.window), self.handovers), size)

    def _others(self, search: BoxSearch, size: Size) -> None:
        """Different layouts in the same box until K are there."""
        while len(self.answer.proposals) < self.request.top and not self._over():
            self.request.told(f"another layout in {_text(size)}")
            _, proposal = search.next(self._effort(self._left()))
            if proposal is None:
                break
            self._keep(proposal)

    # -- pieces -------------------------------------------------------------------------------------------------------

    def _search_box(self, size: Size, limit_s: float) -> Verdict:
        """One shape, everything free, at every place that differs; adds a claim."""
        counts, seconds, verdicts = Counts(), 0.0, []
        for plot in plots(self.spec, size):
            search = BoxSearch(self.spec, question_for(self.spec, plot, self.window), self.handovers)
            outcome, proposal = search.next(self._effort(limit_s))
            counts.add(search.counts)
            seconds += search.seconds
            verdicts.append(_verdict(outcome, search.counts))
            if proposal is not None:
                self._keep(proposal)
                break
        verdict: Verdict = next((v for v in ("found", "open") if v in verdicts), "none exists")  # type: ignore[misc]
        self._claim(size, verdict, seconds, counts)
        return verdict

    def _claim(self, size: Size, verdict: Verdict, seconds: float, counts: Counts, parts: int | None = None) -> None:
        note = ""
        if verdict == "open":
            note = "stopped by the time limit" if not counts.refused else "candidates were refused by the simulator"
        claim = Claim(size, verdict, seconds, parts, counts.admitted, counts.refused, note)
        same = [old for old in self.answer.claims if (old.box, old.parts) == (size, parts)]
        for old in same:
            self.answer.claims.remove(old)
        self.answer.claims.append(claim)
        if verdict == "none exists" and parts is None:
            self._ruled_out.add(size)

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
        return Effort(min(seconds, self._left()), request.workers, request.seed, request.stop)

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


def _repeating_columns(plot: Plot, row: Direction, outputs: int) -> tuple[int, int]:
    """All columns of the row but two at each end."""
    length = plot.size[0 if row == "E" else 1]
    return max(2, length - outputs + 1), outputs - 2


def _verdict(outcome: str, counts: Counts) -> Verdict:
    if outcome == "found":
        return "found"
    return "none exists" if outcome == "none exists" and not counts.refused else "open"


def _text(size: Size) -> str:
    return "x".join(map(str, size))


