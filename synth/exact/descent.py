"""Measure by measure, as the ranking has them: the best there is, each step proved or left open with its bound.

*Box measures* (volume, footprint, height): boxes are settled from the smallest up, in rounds of growing effort.
*Counted measures* (parts, price): one less than the best has, again and again, until there is none.
*Tried measures* (latency, throughput): a bound that the row alone sets, else every layout there is.
Bounds once reached hold for the measures after them (lexicographic order).
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Final, Literal

from sim.parts import PART_KINDS
from synth.exact.bounds import fewest, fewest_parts
from synth.exact.boxes import Box, Boxes, Place, size_measure
from synth.exact.caps import COUNTED, Caps
from synth.exact.crew import Crew
from synth.exact.job import Job, Report
from synth.exact.ladder import Ladder, Rung, RungState
from synth.exact.quickest import earliest_last_arrival
from synth.measures import rank_key
from synth.plots import Size, windows
from synth.request import Request
from synth.result import Claim, Proposal, Step, Verdict
from synth.spec import Spec

CUBES_A_JOB: Final = 12
"""Cubes that one job settles with one solver in the first round: enough for learned clauses to pay, few enough to keep
all cores busy. In later rounds, with larger budgets, fewer in proportion: the last hard cubes are shared out."""
FIRST_BUDGET: Final = 20_000
"""Conflicts for each cube in the first round; each round has ``GROWTH`` times as many."""
GROWTH: Final = 4

BEGUN_SHOWN: Final = 12
"""Boxes of a round that a ladder shows, the latest that were begun; and those still to come."""
AHEAD_SHOWN: Final = 4

LOOKING_SHARE: Final = 0.5
"""Share of the time left for looking at layouts one by one where that proves nothing."""

Task = tuple[Box, Place]
Mode = Literal["any", "another", "every"]


@dataclass
class Descent:
    """One search. ``keep`` is called with each layout found; ``best`` gives the best of all so far, if there is one.

    ``needed``: the handovers under which a layout must work. ``sizes``: the boxes in question (a site's, all of them).
    ``deadline``: of ``time.monotonic``. ``changed`` is called whenever there is news.
    """

    spec: Spec
    request: Request
    needed: tuple[int, ...]
    crew: Crew
    keep: Callable[[Proposal], None]
    best: Callable[[], Proposal | None]
    sizes: list[Size]
    deadline: float
    changed: Callable[[Descent], None] = lambda _: None
    claims: dict[tuple[Size, int | None, int | None], Claim] = field(default_factory=dict)
    steps: list[Step] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.boxes = Boxes(self.spec, windows(self.spec, self.needed))
        self.window = self.boxes.window
        prices = {kind: self.spec.limit(kind).price for kind in PART_KINDS}
        self.caps = Caps(prices=tuple(sorted(prices.items())))
        self.asked: list[Size] = []
        self.asked_caps = self.caps
        self.mode: Mode = "any"
        self.budget = FIRST_BUDGET
        self.begun: set[Size] = set()
        self.measure = ""
        self.low = 0
        self.closed: list[tuple[Size, Caps]] = []
        self._rule_out_by_counting()

    # -- the whole ----------------------------------------------------------------------------------------------------

    def run(self) -> bool:
        """All measures in order; False when something was left open.

        A tried measure is the last that is settled: the model cannot ask for layouts as quick as the best.
        """
        settled, searched = True, True
        for measure in self.spec.order:
            self.measure = measure
            if searched:
                settled &= self._settle(measure)
            else:
                self._look_on(measure)
                settled = False
            best = self.best()
            if best is None:
                return settled
            value = abs(_value(best, self.measure))  # throughput ranks by its negative
            self.steps = [step for step in self.steps if step.measure != self.measure]
            bound = value if settled else self._bound() if searched else None
            self.steps.append(Step(self.measure, value, bound, settled))
            searched &= size_measure(measure) is not None or measure in COUNTED
            self._restrict(self.measure, value)
            self.changed(self)
        return settled

    def _settle(self, measure: str) -> bool:
        if size_measure(measure) is not None:
            return self._smallest_box(measure)
        return self._fewest(measure) if measure in COUNTED else self._quickest(measure)

    def _restrict(self, measure: str, value: float) -> None:
        """From now on only what is as good in this measure."""
        of_size = size_measure(measure)
        if of_size is not None:
            self.sizes = [size for size in self.sizes if of_size(size) <= value]
        elif measure in COUNTED:
            self.caps = self.caps.tightened(measure, int(value))

    def anything(self, until: float) -> bool:
        """Any layout at all, or a proof that there is none: the largest boxes, in rounds of growing effort.

        True when one of the two came before ``until`` (of ``time.monotonic``).
        """
        self.measure, budget = self.spec.order[0], FIRST_BUDGET
        with self._until(until):
            while self._in_force() and (open_ones := self._open(self.caps)):
                if self._round(open_ones, self.caps, budget):
                    return True
                budget *= GROWTH
            return not self._open(self.caps)

    @contextmanager
    def _until(self, until: float) -> Iterator[None]:
        """An earlier deadline for a while."""
        end, self.deadline = self.deadline, min(until, self.deadline)
        try:
            yield
        finally:
            self.deadline = end

    # -- box measures -------------------------------------------------------------------------------------------------

    def _smallest_box(self, measure: str) -> bool:
        """Settle every box that the measure prefers to the best layout's; True when all are."""
        of_size = size_measure(measure)
        assert of_size is not None
        while self._in_force():
            best = self.best()
            limit = _value(best, measure) if best is not None else float("inf")
            open_ones = [size for size in self.sizes if of_size(size) < limit and not self.is_ruled_out(size)]
            open_ones.sort(key=lambda size: (of_size(size), size[0] * size[1] * size[2], size))
            if not open_ones:
                return True
            self._round(open_ones, self.caps, self.budget)
            self.budget *= GROWTH
        return False

    # -- counted measures ---------------------------------------------------------------------------------------------

    def _fewest(self, measure: str) -> bool:
        """Ask for less than the best has until there is none; True when that is proved."""
        self.low = fewest(self.spec, measure)
        budget = FIRST_BUDGET
        while self._in_force():
            best = self.best()
            most = int(_value(best, measure)) - 1 if best is not None else None
            if most is not None and most < self.low:
                return True
            caps = self.caps if most is None else self.caps.tightened(measure, most)
            open_ones = self._open(caps)
            if not open_ones:
                self.low = self.low if most is None else most + 1
                return True
            if self._round(open_ones, caps, budget):
                continue
            if most is not None and self._open(caps):
                self._lift_bound(measure, most, budget)
            budget *= GROWTH
        return False

    def _lift_bound(self, measure: str, most: int, budget: int) -> None:
        """``most`` is undecided: rule out smaller values, by halving, as far as this budget goes."""
        while self._in_force() and self.low < most:
            middle = (self.low + most) // 2
            caps = self.caps.tightened(measure, middle)
            if (open_ones := self._open(caps)) and (self._round(open_ones, caps, budget) or self._open(caps)):
                return
            self.low = middle + 1
            self.changed(self)

    def _open(self, caps: Caps) -> list[Size]:
        """The largest boxes that are not ruled out under the caps."""
        return self.boxes.largest([size for size in self.sizes if not self.is_ruled_out(size, caps)])

    # -- tried measures -----------------------------------------------------------------------------------------------

    def _quickest(self, measure: str) -> bool:
        """Does the best meet the bound of the row alone? Else look at every layout.

        That is a proof only under a cap on parts (clutter could make a layout quicker); without one, half of the time.
        """
        if self.caps.parts is None:
            with self._until(time.monotonic() + (self.deadline - time.monotonic()) * LOOKING_SHARE):
                return self._look_at_every_layout(measure)
        return self._look_at_every_layout(measure)

    def _look_on(self, measure: str) -> None:
        """Behind a tried measure: layouts in boxes that are better by this one, as they come; nothing is proved."""
        of_size = size_measure(measure)
        budget = FIRST_BUDGET
        while of_size is not None and self._in_force():
            best = self.best()
            limit = _value(best, measure) if best is not None else float("inf")
            better = [size for size in self.sizes if of_size(size) < limit and not self.is_ruled_out(size)]
            open_ones = [size for size in better if self.boxes[size].left(self.caps, but_found=True)]
            if not open_ones:
                return
            if not self._round(sorted(open_ones, key=of_size), self.caps, budget, "another"):
                budget *= GROWTH

    def _look_at_every_layout(self, measure: str) -> bool:
        budget = FIRST_BUDGET
        while self._in_force():
            best, bound = self.best(), self._bound()
            if best is not None and bound is not None and _value(best, measure) <= bound:
                return True
            largest = self._open(self.caps)
            if best is None:
                if not largest:
                    return True
                self._round(largest, self.caps, budget)
            else:
                open_ones = [size for size in largest if self.boxes[size].left(self.caps, but_found=True)]
                if not open_ones:
                    return self.caps.parts is not None
                self._round(open_ones, self.caps, budget, "every")
            budget *= GROWTH
        return False

    def another(self, size: Size) -> bool:
        """One more layout in a box, not those that were found there; False when none came."""
        budget = FIRST_BUDGET
        unlimited = Caps(prices=self.caps.prices)
        while self._in_force() and self.boxes[size].left(unlimited, but_found=True):
            if self._round([size], unlimited, budget, "another"):
                return True
            budget *= GROWTH
        return False

    # -- rounds -------------------------------------------------------------------------------------------------------

    def _round(self, asked: Sequence[Size], caps: Caps, budget: int, mode: Mode = "any") -> bool:
        """One go at every cube that is left of these boxes; ends early when a layout is found, but in mode "every".

        True when one was found. In modes "another" and "every" those found before are cut out.
        """
        self.asked, self.asked_caps, self.mode = list(asked), caps, mode
        self.begun.clear()
        self.changed(self)
        drawn: deque[Task] = deque()
        found_any = False
        for report in self.crew.reports(self._jobs(drawn, asked, caps, budget, mode), self.request.stop, self.deadline):
            box, place = drawn.popleft()
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
                nogoods = tuple(place.nogoods) if mode != "any" else ()
                together = max(1, CUBES_A_JOB * FIRST_BUDGET // budget)
                for i in range(0, len(left), together):
                    drawn.append((box, place))
                    yield Job(
                        spec=self.spec,
                        question=place.question,
                        needed=self.needed,
                        cubes=tuple(left[i : i + together]),
                        caps=caps,
                        conflicts=budget,
                        seed=self.request.seed,
                        every=mode == "every",
                        nogoods=nogoods,
                    )

    # -- claims -------------------------------------------------------------------------------------------------------

    def is_ruled_out(self, size: Size, caps: Caps | None = None) -> bool:
        """Proved to hold no layout within the caps: by itself, or because a box that contains it was."""
        caps = caps or self.caps
        outer = next((one for one, under in self.closed if under.covers(caps) and self.boxes.contains(one, size)), None)
        if outer is None:
            return False
        known = self.claims.get((size, caps.parts, caps.price))
        if outer != size and (known is None or known.verdict == "open"):
            self.rule_out(Claim(size, "none exists", 0.0, self.needed, caps.parts, price=caps.price, implied_by=outer))
        return True

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
            if size[0] * size[1] * size[2] < least:
                note = f"by counting: a layout has {least} parts at least"
                self.rule_out(Claim(size, "none exists", 0.0, self.needed, note=note))

    # -- figures ------------------------------------------------------------------------------------------------------

    def _bound(self) -> float | None:
        """The lower bound on the measure in hand, as far as it is known."""
        of_size = size_measure(self.measure)
        if of_size is not None:
            ascending = sorted(self.sizes, key=of_size)
            return next((of_size(size) for size in ascending if not self.is_ruled_out(size)), None)
        if self.measure in COUNTED:
            return self.low
        if self.measure == "latency":
            return earliest_last_arrival(self.spec.rules, self.spec.outputs, self.window)
        return None

    def ladder(self) -> Ladder:
        """How the search stands."""
        best = self.best()
        value = _value(best, self.measure) if best is not None and self.measure else None
        begun = [size for size in self.asked if size in self.begun]
        waiting = self.asked[len(begun) : len(begun) + AHEAD_SHOWN]
        rungs = [self._rung(size) for size in begun[-BEGUN_SHOWN:]]
        rungs += [Rung(size, "waiting", 0, 0, 0.0, self.asked_caps.parts, "") for size in waiting]
        return Ladder(self.measure, value, self._bound(), rungs, list(self.steps))

    def _rung(self, size: Size) -> Rung:
        box, caps = self.boxes[size], self.asked_caps
        claim = self.claims.get((size, caps.parts, caps.price))
        left = box.left(caps, but_found=self.mode != "any")
        state: RungState = "searching"
        if claim is not None and claim.verdict != "open":
            state = claim.verdict
        return Rung(size, state, left, box.cubes(), box.seconds, caps.parts, claim.note if claim else "")

    def _in_force(self) -> bool:
        return not self.request.stop.is_set() and time.monotonic() < self.deadline


def _value(proposal: Proposal, measure: str) -> float:
    (value,) = rank_key(proposal.measures, (measure,))
    return value
