"""Measure by measure, as the ranking has them: the best there is, each step proved or left open with its bound.

*Box measures* (volume, footprint, height): boxes are settled from the smallest up, in rounds of growing effort.
*Counted measures* (parts, price): one less than the best has, again and again, until there is none.
*Tried measures* (latency, throughput): a bound that the row alone sets, else every layout there is.
Bounds once reached hold for the measures after them (lexicographic order).
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count
from typing import Final

from synth.confirm.measures import rank_key
from synth.confirm.proposal import Proposal
from synth.model.plots import Size, volume
from synth.schemes.registry import scheme_of
from synth.search.exact.bounds import fewest
from synth.search.exact.boxes import size_measure
from synth.search.exact.caps import COUNTED, Caps
from synth.search.exact.ladder import Ladder, Rung, RungState
from synth.search.exact.rounds import FIRST_BUDGET, GROWTH, Plan, Rounds
from synth.search.result import Step

BEGUN_SHOWN: Final = 12
"""Boxes of a round that a ladder shows, the latest that were begun; and those still to come."""
AHEAD_SHOWN: Final = 4
LOOKING_SHARE: Final = 0.5
"""Share of the time left for looking at layouts one by one where that proves nothing."""


@dataclass
class Descent(Rounds):
    """One search: rounds over boxes, steered by the ranking's measures.

    ``measure``: the one in hand; ``low``: the lower bound on it, if it is a counted one.
    """

    measure: str = ""
    low: int = 0

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

    def anything(self, until: float, budgets: Iterable[int] | None = None) -> bool:
        """Any layout at all, or a proof that there is none: the largest boxes, a round for each of the budgets (None:
        growing ones without end).

        True when one of the two came before ``until`` (of ``time.monotonic``).
        """
        self.measure = self.spec.order[0]
        with self._until(until):
            for budget in growing() if budgets is None else budgets:
                if not (self._in_force() and (open_ones := self._open(self.caps))):
                    break
                if self._round(open_ones, self.caps, budget):
                    return True
            return not self._open(self.caps)

    # -- box measures -------------------------------------------------------------------------------------------------

    def _smallest_box(self, measure: str) -> bool:
        """Settle every box that the measure prefers to the best layout's; True when all are."""
        of_size = size_measure(measure)
        assert of_size is not None
        while self._in_force():
            best = self.best()
            limit = _value(best, measure) if best is not None else float("inf")
            open_ones = [size for size in self.sizes if of_size(size) < limit and not self.is_ruled_out(size)]
            open_ones.sort(key=lambda size: (of_size(size), volume(size), size))
            if not open_ones:
                return True
            self._round(open_ones, self.caps, self.budget, then=self._after_boxes(open_ones))
            self.budget *= GROWTH
        return False

    def _after_boxes(self, asked: Sequence[Size]) -> list[Plan]:
        """What is likely after a round over boxes: the same with a larger budget; then less in the best one's box."""
        plans, best = [Plan(asked, self.caps, self.budget * GROWTH)], self.best()
        counted = next((one for one in self.spec.order if size_measure(one) is None), None)
        if best is not None and counted in COUNTED:
            w, d, h = best.measures.box
            caps = self.caps.tightened(counted, int(_value(best, counted)) - 1)
            plans.append(Plan([size for size in self.sizes if size in ((w, d, h), (d, w, h))], caps, FIRST_BUDGET))
        return plans

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
            later = Plan(open_ones, caps, budget * GROWTH)
            if self._round(open_ones, caps, budget, then=[*self._halfway(measure, most, later), later]):
                continue
            if most is not None and self._open(caps):
                self._lift_bound(measure, most, later)
            budget *= GROWTH
        return False

    def _lift_bound(self, measure: str, most: int, later: Plan) -> None:
        """``most`` is undecided: rule out smaller values, by halving, with the budget it had; ``later`` comes after."""
        while self._in_force() and self.low < most:
            middle = (self.low + most) // 2
            caps = self.caps.tightened(measure, middle)
            if (open_ones := self._open(caps)) and (
                self._round(open_ones, caps, later.budget // GROWTH, then=[later]) or self._open(caps)
            ):
                return
            self.low = middle + 1
            self.changed(self)

    def _halfway(self, measure: str, most: int | None, later: Plan) -> list[Plan]:
        """The first step of lifting the bound, where there is one to come."""
        if most is None or self.low >= most:
            return []
        caps = self.caps.tightened(measure, (self.low + most) // 2)
        return [replace(later, caps=caps, budget=later.budget // GROWTH)]

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

    # -- figures ------------------------------------------------------------------------------------------------------

    def low_of(self, measure: str) -> float | None:
        """The lower bound that claims on boxes set on a measure that the box tells; None for other measures."""
        of_size = size_measure(measure)
        if of_size is None:
            return None
        ascending = sorted(self.sizes, key=of_size)
        return next((of_size(size) for size in ascending if not self.is_ruled_out(size)), None)

    def _bound(self) -> float | None:
        """The lower bound on the measure in hand, as far as it is known."""
        if size_measure(self.measure) is not None:
            return self.low_of(self.measure)
        if self.measure in COUNTED:
            return self.low
        if self.measure == "latency":
            return scheme_of(self.spec).quickest(self.spec.rules, self.spec.outputs, self.within)
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


def growing(first: int = FIRST_BUDGET) -> Iterator[int]:
    """The budgets of one round after the other."""
    return (first * GROWTH**number for number in count())


def _value(proposal: Proposal, measure: str) -> float:
    (value,) = rank_key(proposal.measures, (measure,))
    return value
