"""The whole hall in the simulator: every stream loaded at once, every furnace firing.

The trials of a hall are those of a single row (``synth/confirm``): one load of N, 2N and 18N items a stream, and the
loads of N and 18N twice without reset, under each handover that is asked for. Here each stream has the terms of its own
scheme.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from sim.layout import Layout
from sim.rulebook import Rules
from sim.signals.wiring import Wiring, wiring_of
from sim.trial import Arrival, Trial, TrialResult
from synth.confirm import LOADS, TICK_LIMIT

GAPS: Final = (3, 8, 9, 16, 17, 40)
"""Ticks between items that trickle in, where a stream is to be even for that."""


@dataclass(frozen=True, slots=True)
class StreamTerms:
    """What the trials ask of one stream. ``held_most``: items that its nodes may hold at rest beyond their start;
    ``trickles``: to be even for items that come one by one."""

    held_most: int = 0
    trickles: bool = False


Terms = Mapping[str, StreamTerms]
"""By the name of the stream."""


@dataclass(frozen=True, slots=True)
class HallTrial:
    """One trial of a hall. ``what`` was put in, the last of it at tick ``began``; ``fault``: what did not come out as
    asked ("": nothing)."""

    handover: int
    what: str
    result: TrialResult
    fault: str
    began: int = 0


def hall_trials(layout: Layout, rules: Rules, handovers: Sequence[int], terms: Terms,
                stopped: Callable[[], bool] = lambda: False) -> Iterator[HallTrial]:  # fmt: skip
    """The trials in turn, until ``stopped``. Ticks of the longest: about 36 firings; each costs the nodes of the hall
    at most."""
    wiring = wiring_of(layout)
    for handover in handovers:
        bench = _Bench(layout, rules, wiring, terms, handover)
        for per_target, times in LOADS:
            if stopped():
                return
            yield bench.load(per_target, times)
        if any(one.trickles for one in terms.values()):
            for gap in GAPS:
                if stopped():
                    return
                yield bench.trickle(gap)


@dataclass(frozen=True, slots=True)
class _Bench:
    layout: Layout
    rules: Rules
    wiring: Wiring
    terms: Terms
    handover: int

    def load(self, per_target: int, times: int) -> HallTrial:
        trial = self._trial()
        fault, began = "", 0
        for turn in range(1, times + 1):
            began = trial.world.tick
            load = [Arrival(0, s.name, per_target * len(s.outputs)) for s in self.layout.streams]
            result = trial.run(load, limit=TICK_LIMIT)
            put = {s.name: per_target * turn * len(s.outputs) for s in self.layout.streams}
            fault = self._fault(result, put)
            if fault:
                break
        what = f"{per_target} a furnace" + (" twice" if times > 1 else "")
        return HallTrial(self.handover, what, result, fault, began)

    def trickle(self, gap: int) -> HallTrial:
        trial = self._trial()
        arrivals, put = [], {}
        for s in self.layout.streams:
            count = 2 * len(s.outputs) if self.terms[s.name].trickles else 0
            put[s.name] = count
            arrivals += [Arrival(i * gap, s.name, 1) for i in range(count)]
        result = trial.run(arrivals, limit=TICK_LIMIT)
        return HallTrial(self.handover, f"one item each {gap} ticks", result, self._fault(result, put))

    def _trial(self) -> Trial:
        under = replace(self.layout, rules={**self.layout.rules, "handover": self.handover})
        return Trial(under, self.rules, wiring=self.wiring)

    def _fault(self, result: TrialResult, put: Mapping[str, int]) -> str:
        if not result.at_rest or result.stopped:
            return "does not come to rest"
        if result.findings:
            return result.findings[0].text
        uneven = next((one for one in result.streams if one.spread), None)
        if uneven is not None:
            return f"{uneven.name}: spread {uneven.spread}"
        items = dict.fromkeys(stream.item for stream in self.layout.streams)
        return next((fault for item in items if (fault := self._unaccounted(result, put, item))), "")

    def _unaccounted(self, result: TrialResult, put: Mapping[str, int], item: str) -> str:
        """What is kept is told by kind of item: rows that carry the same kind are taken together."""
        names = {stream.name for stream in self.layout.streams if stream.item == item}
        mine = [one for one in result.streams if one.name in names]
        kept = mine[0].held - mine[0].held_at_start
        waiting = sum(put[name] for name in names) - sum(sum(one.delivered) for one in mine) - kept
        if waiting:
            return f"{waiting} {item} stay in the sources"
        most = sum(self.terms[name].held_most for name in names)
        return "" if 0 <= kept <= most else f"{kept} {item} stay in nodes, where {most} may"
