"""Rounds over boxes: every cube that is left gets its budget; what comes of it becomes layouts, proofs and claims."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import takewhile
from typing import Any, Final, Literal

from sim.world.parts import PART_KINDS
from synth.ask.spec import Spec
from synth.confirm.proposal import Proposal
from synth.model.plots import Size, volume, windows
from synth.search.exact.bounds import fewest_parts
from synth.search.exact.boxes import Box, Boxes, Place
from synth.search.exact.caps import Caps
from synth.search.exact.job import Job, Report
from synth.search.exact.walks import Walk
from synth.search.exact.worker import JobEngine, JobShare
from synth.search.request import Request
from synth.search.result import Claim, Step, Verdict

CUBES_A_JOB: Final = 12
"""Cubes that one job settles with one solver in the first round: enough for learned clauses to pay, few enough to keep
all cores busy. In later rounds, with larger budgets, fewer in proportion: the last hard cubes are shared out."""
FIRST_BUDGET: Final = 20_000
"""Conflicts for each cube in the first round; each round has ``GROWTH`` times as many."""
GROWTH: Final = 4

Task = tuple[Box, Place, tuple[Walk, ...]]
Mode = Literal["any", "another", "every"]


@dataclass(frozen=True, slots=True)
class Plan:
    """A round that may come: which boxes, under which caps, with which budget for each cube."""

    asked: Sequence[Size]
    caps: Caps
    budget: int


@dataclass
class Rounds:
    """One search. ``keep`` is called with each layout found; ``best`` gives the best of all so far, if there is one.

    ``needed``: the handovers under which a layout must work. ``sizes``: the boxes in question (a site's, all of them).
    ``deadline``: of ``time.monotonic``. ``changed`` is called whenever there is news.
    """

    spec: Spec
    request: Request
    needed: tuple[int, ...]
    engine: JobEngine | JobShare
    keep: Callable[[Proposal], None]
    best: Callable[[], Proposal | None]
    sizes: list[Size]
    deadline: float
    changed: Callable[[Any], None] = lambda _: None
    claims: dict[tuple[Size, int | None, int | None], Claim] = field(default_factory=dict)
    steps: list[Step] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.boxes = Boxes(self.spec, windows(self.spec, self.needed))
        self.within = self.boxes.within
        prices = {kind: self.spec.limit(kind).price for kind in PART_KINDS}
        self.caps = Caps(prices=tuple(sorted(prices.items())))
        self.asked: list[Size] = []
        self.asked_caps = self.caps
        self.mode: Mode = "any"
        self.budget = FIRST_BUDGET
        self.begun: set[Size] = set()
        self.closed: list[tuple[Size, Caps]] = []
        self._rule_out_by_counting()

    # -- rounds -------------------------------------------------------------------------------------------------------

    def _round(
        self, asked: Sequence[Size], caps: Caps, budget: int, mode: Mode = "any", then: Sequence[Plan] = ()
    ) -> bool:
        """One go at every cube that is left of these boxes; ends early when a layout is found, but in mode "every".

        True when one was found. In modes "another" and "every" those found before are cut out. ``then``: what is likely
        to be asked next, begun in the round's tail (``_likely``).
        """
        self.asked, self.asked_caps, self.mode = list(asked), caps, mode
        self.begun.clear()
        self.changed(self)
        drawn: deque[Task] = deque()
        found_any = False
        jobs, plans = self._jobs(drawn, asked, caps, budget, mode), then or [Plan(asked, caps, budget * GROWTH)]
        likely = partial(self._likely, drawn, plans, mode)
        for report in self.engine.results(jobs, self.request.stop, self.deadline, likely):
            box, place, _ = drawn.popleft()
            box.note(report)
            place.note(caps, report.ruled_out, but_found=mode != "any")
            for found in report.found:
                place.nogoods.append(found.nogood)
                self.keep(found.proposal)
            if mode == "any":
                self._claim(box, caps, report)
            self.changed(self)
            found_any |= bool(report.found)
            if report.found and mode != "every":
                break
        return found_any

    def _jobs(
        self, drawn: deque[Task], asked: Sequence[Size], caps: Caps, budget: int, mode: Mode
    ) -> Iterator[Job]:
        """The jobs of a round; ``drawn`` takes what each is about."""
        for size in asked:
            if not self._in_force():
                return
            box = self.boxes[size]
            self.begun.add(size)
            if mode == "any" and not box.left(caps):  # no way for the row at all, or settled by a ledger
                self._claim(box, caps, Report())
            for place in box.places:
                left = place.left(caps, but_found=mode != "any")
                for job in self._pieces(place, left, caps, budget, mode):
                    drawn.append((box, place, job.cubes))
                    yield job

    def _likely(self, drawn: deque[Task], plans: Sequence[Plan], mode: Mode) -> Iterator[Job]:
        """The jobs of rounds to come, as far as the reports so far tell which ones these are: cubes are taken together
        in their order, so of a place up to the first whose report has not come."""
        waited_for = {(id(place), cube) for _, place, cubes in drawn for cube in cubes}
        for plan in plans:
            for size in plan.asked:
                if self._outer(size, plan.caps) is not None:
                    continue
                for place in self.boxes[size].places:
                    left = place.left(plan.caps, but_found=mode != "any")
                    known = list(takewhile(lambda cube: (id(place), cube) not in waited_for, left))  # noqa: B023
                    if len(known) < len(left):
                        known = known[: len(known) // _together(plan.budget) * _together(plan.budget)]
                    yield from self._pieces(place, known, plan.caps, plan.budget, mode)

    def _pieces(self, place: Place, cubes: Sequence[Walk], caps: Caps, budget: int, mode: Mode) -> Iterator[Job]:
        """These cubes as jobs."""
        nogoods = tuple(place.nogoods) if mode != "any" else ()
        together = _together(budget)
        for i in range(0, len(cubes), together):
            yield _whole(
                Job(
                    spec=self.spec,
                    question=place.question,
                    needed=self.needed,
                    cubes=tuple(cubes[i : i + together]),
                    caps=caps,
                    conflicts=budget,
                    seed=self.request.seed,
                    every=mode == "every",
                    nogoods=nogoods,
                )
            )

    # -- claims -------------------------------------------------------------------------------------------------------

    def is_ruled_out(self, size: Size, caps: Caps | None = None) -> bool:
        """Proved to hold no layout within the caps: by itself, or because a box that contains it was."""
        caps = caps or self.caps
        outer = self._outer(size, caps)
        if outer is None:
            return False
        known = self.claims.get((size, caps.parts, caps.price))
        if outer != size and (known is None or known.verdict == "open"):
            self._set(Claim(size, "none exists", 0.0, self.needed, caps.parts, price=caps.price, implied_by=outer))
        return True

    def _outer(self, size: Size, caps: Caps) -> Size | None:
        """A box that contains it (it may be the same), proved to hold no layout within the caps."""
        return next((one for one, under in self.closed if under.covers(caps) and self.boxes.contains(one, size)), None)

    def rule_out(self, claim: Claim) -> None:
        """Take a claim that no layout exists for granted from now on."""
        under = replace(self.caps, parts=claim.parts, price=claim.price)
        others = [
            (box, caps) for box, caps in self.closed if not (under.covers(caps) and self.boxes.contains(claim.box, box))
        ]
        self.closed = [*others, (claim.box, under)]  # the largest say it all
        self._set(claim)

    def _claim(self, box: Box, caps: Caps, report: Report) -> None:
        """What is known of the box now."""
        known = self.claims.get((box.size, caps.parts, caps.price))
        if known is not None and known.verdict == "found" and not report.found:
            return
        verdict: Verdict = "found" if report.found else "open" if box.left(caps) else "none exists"
        note = report.note if verdict == "open" else ""
        if verdict == "none exists" and box.refused:
            note = f"{box.refused} candidates refused, each cut out by a sound no-good"
        claim = Claim(
            box.size, verdict, box.seconds, self.needed, caps.parts, box.admitted, box.refused, note, caps.price
        )
        if verdict == "none exists":
            self.rule_out(claim)
        else:
            self._set(claim)

    def _set(self, claim: Claim) -> None:
        self.claims[claim.box, claim.parts, claim.price] = claim

    def _rule_out_by_counting(self) -> None:
        """Boxes with fewer cells than every layout has parts."""
        least = fewest_parts(self.spec)
        for size in self.sizes:
            if volume(size) < least:
                note = f"by counting: a layout has {least} parts at least"
                self.rule_out(Claim(size, "none exists", 0.0, self.needed, note=note))

    def _open(self, caps: Caps) -> list[Size]:
        """The largest boxes that are not ruled out under the caps."""
        return self.boxes.largest([size for size in self.sizes if not self.is_ruled_out(size, caps)])

    # -- time ---------------------------------------------------------------------------------------------------------

    @contextmanager
    def _until(self, until: float) -> Iterator[None]:
        """An earlier deadline for a while."""
        end, self.deadline = self.deadline, min(until, self.deadline)
        try:
            yield
        finally:
            self.deadline = end

    def _in_force(self) -> bool:
        return not self.request.stop.is_set() and time.monotonic() < self.deadline


def _together(budget: int) -> int:
    """Cubes in one job."""
    return max(1, CUBES_A_JOB * FIRST_BUDGET // budget)


def _whole(job: Job) -> Job:
    """The job. Raises ValueError for one that is narrowed: claims rest on what these rule out."""
    if job.is_narrowed:
        raise ValueError("a narrowed job proves nothing")
    return job
