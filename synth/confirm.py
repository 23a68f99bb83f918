"""Every candidate runs in the simulator before anybody sees it.

The trials of a candidate: one load of N, of 2N and of 18N items a stream, and the load of N and of 18N twice without
reset (drift), each under both handovers. A trial passes when it comes to rest with every target served alike, no item
left in a node, and no finding.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from sim.layout import Layout
from sim.rulebook import Rules, known_handovers
from sim.signals.wiring import wiring_of
from sim.trial import Arrival, Trial, TrialResult

LOADS: Final = ((1, 1), (2, 1), (18, 1), (1, 2), (18, 2))
"""(items a target, times without reset)."""
TICK_LIMIT: Final = 200_000
"""World ticks after which a trial of a candidate counts as refused: far above what 36 N items need."""


@dataclass(frozen=True, slots=True)
class TrialRecord:
    """One trial of a candidate: what was put in, what came of it."""

    handover: int
    per_target: int
    times: int
    result: TrialResult
    passed: bool


@dataclass(frozen=True, slots=True)
class Confirmation:
    """All trials of one candidate."""

    records: tuple[TrialRecord, ...] = field(default=())

    @property
    def handovers(self) -> tuple[int, ...]:
        """The handovers under which every trial passed."""
        tried = dict.fromkeys(record.handover for record in self.records)
        return tuple(h for h in tried if all(r.passed for r in self.records if r.handover == h))

    def first_failure(self, handover: int) -> TrialRecord | None:
        """The first trial under that handover that did not pass."""
        return next((r for r in self.records if r.handover == handover and not r.passed), None)

    def record(self, handover: int, per_target: int, times: int = 1) -> TrialRecord:
        """The trial of one load."""
        wanted = (handover, per_target, times)
        return next(r for r in self.records if (r.handover, r.per_target, r.times) == wanted)


def handovers_to_try(rules: Rules) -> tuple[int, ...]:
    """The handover in force first, then the others that worlds are known to use."""
    return tuple(dict.fromkeys((rules.handover, *known_handovers())))


def works_at_all(layout: Layout, rules: Rules, handovers: Sequence[int]) -> bool:
    """A quick screen: the two smallest loads pass under each handover."""
    wiring = wiring_of(layout)
    return all(
        _one_trial(Trial(_under(layout, handover), rules, wiring=wiring), handover, per_target, 1).passed
        for handover in handovers
        for per_target in (1, 2)
    )


def _under(layout: Layout, handover: int) -> Layout:
    return replace(layout, rules={**layout.rules, "handover": handover})


def confirm(layout: Layout, rules: Rules, *, needed: Sequence[int]) -> Confirmation:
    """Run the trials of ``layout``; stops at the first failure under a ``needed`` handover, which decides.

    ``rules`` are the numbers in force without the layout's own overrides of the handover.
    """
    records: list[TrialRecord] = []
    wiring = wiring_of(layout)
    for handover in handovers_to_try(rules):
        under = _under(layout, handover)
        for per_target, times in LOADS:
            trial = Trial(under, rules, wiring=wiring)
            record = _one_trial(trial, handover, per_target, times)
            records.append(record)
            if not record.passed:
                if handover in needed:
                    return Confirmation(tuple(records))
                break
    return Confirmation(tuple(records))


def _one_trial(trial: Trial, handover: int, per_target: int, times: int) -> TrialRecord:
    load = [Arrival(0, s.name, per_target * len(s.outputs)) for s in trial.layout.streams]
    for turn in range(1, times + 1):
        result = trial.run(load, limit=TICK_LIMIT)
        passed = _serves_all_alike(result, per_target * turn)
        if not passed:
            break
    return TrialRecord(handover, per_target, times, result, passed)


def _serves_all_alike(result: TrialResult, each: int) -> bool:
    served = all(set(stream.delivered) == {each} and stream.held == 0 for stream in result.streams)
    return served and result.at_rest and not result.stopped and not result.findings
