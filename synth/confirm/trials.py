"""The trials of a candidate, of one split or of a whole hall: what is put in, what must come of it.

Loads that are there at once, one after another without reset too (``synth/confirm/loads``); where a stream is to be
even for that, also items that come one by one (``synth/ask/arrivals``). A trial passes when it comes to rest without a
finding, with every target of a stream served alike, no more items of the stream left in the nodes than its scheme
says, and none elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, islice
from typing import Final

from sim.errors import InputError
from sim.world.files.places import json_place
from sim.world.layout import Layout
from sim.world.rulebook import Rules
from sim.world.signals.wiring import wiring_of
from sim.world.trial import Arrival, Trial, TrialResult
from synth.ask.arrivals import patterns
from synth.confirm.loads import LOADS, Load, load_text, room_in, size_text

TICK_LIMIT: Final = 200_000
"""World ticks after which a trial of a candidate counts as refused: far above what 36 N items need."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What the trials ask of a stream. ``held_most``: items of it that nodes may hold at rest, beyond what they start
    with; ``trickles``: items that come one by one are tried too."""

    held_most: int = 0
    trickles: bool = False


@dataclass(frozen=True, slots=True)
class TrialRecord:
    """One trial of a candidate: what was put in, what came of it.

    ``fault``: what did not come out as asked ("": nothing; of several loads, after the first that it came of).
    ``pattern``: the name of the arrival pattern ("": all at once). ``began``: the tick at which the last load, or the
    last item, was put in.
    """

    handover: int
    per_target: int
    times: int
    result: TrialResult
    fault: str
    pattern: str = ""
    began: int = 0

    @property
    def passed(self) -> bool:
        """All came out as asked."""
        return not self.fault

    @property
    def load(self) -> Load:
        """Items a target, times without reset."""
        return self.per_target, self.times

    @property
    def what(self) -> str:
        """What was put in, in words."""
        if self.pattern:
            return f"{size_text(self.per_target)} items one by one ({self.pattern})"
        return f"a load of {load_text(*self.load)}"


class Trials:
    """The trials of one layout. ``terms``: by the name of the stream. ``rules``: the numbers in force without the
    layout's own overrides.

    Raises InputError where there is no room for any load, or streams cannot be told apart.
    """

    def __init__(self, layout: Layout, rules: Rules, terms: Mapping[str, Terms]) -> None:
        _check_told_apart(layout)
        self.layout, self.rules, self.terms = layout, rules, terms
        self.room = room_in(layout, rules, {name: one.held_most for name, one in terms.items()})
        self._wiring = wiring_of(layout)

    def under(self, handover: int, wanted: Sequence[Load] = LOADS, most: int | None = None) -> Iterator[TrialRecord]:
        """The loads; then, if any stream trickles, the patterns (``most``: so many of them)."""
        for load in self.room.loads(wanted):
            yield self._of_load(handover, *load)
        each, trickling = self.room.trickled, [s for s in self.layout.streams if self.terms[s.name].trickles]
        for turn in islice(zip(*(patterns(each * len(s.outputs)) for s in trickling), strict=True), most):
            arrivals = [
                Arrival(tick, s.name, 1) for s, one in zip(trickling, turn, strict=True) for tick in one.ticks
            ]
            result = self._trial(handover).run(arrivals, limit=TICK_LIMIT)
            began = max(one.ticks[-1] for one in turn)
            yield TrialRecord(handover, each, 1, result, self._fault(result), turn[0].name, began)

    def _of_load(self, handover: int, per_target: int, times: int) -> TrialRecord:
        trial = self._trial(handover)
        load = [Arrival(0, s.name, per_target * len(s.outputs)) for s in self.layout.streams]
        for _ in range(times):
            began = trial.world.tick
            result = trial.run(load, limit=TICK_LIMIT)
            if fault := self._fault(result):
                break
        return TrialRecord(handover, per_target, times, result, fault, began=began)

    def _trial(self, handover: int) -> Trial:
        under = replace(self.layout, rules={**self.layout.rules, "handover": handover})
        return Trial(under, self.rules, wiring=self._wiring)

    def _fault(self, result: TrialResult) -> str:
        if not result.at_rest or result.stopped:
            return "does not come to rest"
        if result.findings:
            return result.findings[0].text
        uneven = (f"{one.name}: spread {one.spread}" for one in result.streams if one.spread)
        return next(uneven, "") or next(self._not_accounted_for(result), "")

    def _not_accounted_for(self, result: TrialResult) -> Iterator[str]:
        """What was not delivered is in the nodes: told by kind of item, as trials count what nodes hold. Then each
        stream's own, as told by what came out of it, must be no more than it may keep."""
        streams, kept = self.layout.streams, {one.name: one.given - sum(one.delivered) for one in result.streams}
        before = held_in_nodes(self.layout, result, at_start=True)
        for item, held in held_in_nodes(self.layout, result).items():
            stray = sum(kept[stream.name] for stream in streams if stream.item == item) - (held - before[item])
            if stray:
                yield f"{stray} {item} stay in the sources" if stray > 0 else f"{-stray} {item} more than were put in"
        for stream in streams:
            count, most = kept[stream.name], self.terms[stream.name].held_most
            if count < 0:
                yield f"{stream.name}: {-count} {stream.item} more come out than were put in"
            if count > most:
                yield f"{stream.name}: {count} {stream.item} stay in nodes, where {most} may"


def held_in_nodes(layout: Layout, result: TrialResult, *, at_start: bool = False) -> dict[str, int]:
    """Items in nodes at the end, or at the start, of each kind that a stream carries."""
    pairs = zip(layout.streams, result.streams, strict=True)
    return {stream.item: one.held_at_start if at_start else one.held for stream, one in pairs}


def _check_told_apart(layout: Layout) -> None:
    """An output counts what enters it by kind of item, whichever row brings it."""
    for one, other in combinations(layout.streams, 2):
        if one.item == other.item and set(one.outputs) & set(other.outputs):
            fault = f'brings the same item to the same outputs as "{other.name}"; what each one delivers cannot be told'
            raise InputError(fault, field=json_place(("streams", one.name)))
