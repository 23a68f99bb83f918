"""Every candidate runs in the simulator before anybody sees it.

The trials of a candidate: one load of N, of 2N and of 18N items a stream, and the load of N and of 18N twice without
reset (drift); where it is to be even for streams, also items that trickle in (``synth/arrivals``). Each under each
handover. A trial passes when it comes to rest with every target served alike, no more items left in the nodes than the
scheme says, none left in a bin, and no finding.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from sim.layout import Layout
from sim.rulebook import Rules, known_handovers
from sim.signals.wiring import Wiring, wiring_of
from sim.trial import Arrival, Trial, TrialResult
from synth.arrivals import Pattern, patterns
from synth.schemes.registry import scheme_of
from synth.spec import Spec

LOADS: Final = ((1, 1), (2, 1), (18, 1), (1, 2), (18, 2))
"""(items a target, times without reset)."""
TICK_LIMIT: Final = 200_000
"""World ticks after which a trial of a candidate counts as refused: far above what 36 N items need."""
SCREENED: Final = 4
"""Patterns of the quick screen."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What the trials ask. ``held_most``: items of a stream that nodes may hold at rest, beyond what they start with;
    ``trickles``: items that trickle in are tried too."""

    held_most: int = 0
    trickles: bool = False


def terms_of(spec: Spec) -> Terms:
    """What the spec asks, of the scheme that it is about."""
    return Terms(scheme_of(spec).held(spec.outputs), spec.even_for == "stream")


@dataclass(frozen=True, slots=True)
class TrialRecord:
    """One trial of a candidate: what was put in, what came of it.

    ``pattern``: the name of the arrival pattern ("": all at once). ``began``: the tick at which the last load was put
    in.
    """

    handover: int
    per_target: int
    times: int
    result: TrialResult
    passed: bool
    pattern: str = ""
    began: int = 0


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
        wanted = (handover, per_target, times, "")
        return next(r for r in self.records if (r.handover, r.per_target, r.times, r.pattern) == wanted)

    def trickled(self, handover: int) -> list[TrialRecord]:
        """The trials under that handover in which items trickled in."""
        return [r for r in self.records if r.handover == handover and r.pattern]


def handovers_to_try(rules: Rules) -> tuple[int, ...]:
    """The handover in force first, then the others that worlds are known to use."""
    return tuple(dict.fromkeys((rules.handover, *known_handovers())))


def works_at_all(layout: Layout, rules: Rules, handovers: Sequence[int], terms: Terms = Terms()) -> bool:
    """A quick screen: the two smallest loads, and some patterns if any are asked, pass under each handover."""
    wiring = wiring_of(layout)
    return all(
        record.passed
        for handover in handovers
        for record in _trials(_Bench(layout, rules, wiring, terms, handover), ((1, 1), (2, 1)), SCREENED)
    )


def confirm(layout: Layout, rules: Rules, *, needed: Sequence[int], terms: Terms = Terms()) -> Confirmation:
    """Run the trials of ``layout``; stops at the first failure under a ``needed`` handover, which decides.

    ``rules`` are the numbers in force without the layout's own overrides of the handover.
    """
    records: list[TrialRecord] = []
    wiring = wiring_of(layout)
    for handover in handovers_to_try(rules):
        for record in _trials(_Bench(layout, rules, wiring, terms, handover), LOADS):
            records.append(record)
            if not record.passed:
                if handover in needed:
                    return Confirmation(tuple(records))
                break
    return Confirmation(tuple(records))


@dataclass(frozen=True, slots=True)
class _Bench:
    """Where the trials of one candidate under one handover are run."""

    layout: Layout
    rules: Rules
    wiring: Wiring
    terms: Terms
    handover: int

    def trial(self) -> Trial:
        under = replace(self.layout, rules={**self.layout.rules, "handover": self.handover})
        return Trial(under, self.rules, wiring=self.wiring)


def _trials(bench: _Bench, loads: Sequence[tuple[int, int]], most: int | None = None) -> Iterator[TrialRecord]:
    """The loads; then the patterns (``most``: so many of them), if they are asked for."""
    for per_target, times in loads:
        yield _of_load(bench, per_target, times)
    if bench.terms.trickles:
        targets = max(len(stream.outputs) for stream in bench.layout.streams)
        for pattern in patterns(targets)[:most]:
            yield _of_pattern(bench, pattern)


def _of_load(bench: _Bench, per_target: int, times: int) -> TrialRecord:
    trial, began = bench.trial(), 0
    load = [Arrival(0, s.name, per_target * len(s.outputs)) for s in trial.layout.streams]
    for turn in range(1, times + 1):
        began = trial.world.tick
        result = trial.run(load, limit=TICK_LIMIT)
        passed = all(_is_split(result, i, per_target * turn * len(s.outputs), bench.terms)
                     for i, s in enumerate(trial.layout.streams)) and _ended_well(result)  # fmt: skip
        if not passed:
            break
    return TrialRecord(bench.handover, per_target, times, result, passed, began=began)


def _of_pattern(bench: _Bench, pattern: Pattern) -> TrialRecord:
    trial = bench.trial()
    arrivals = [Arrival(tick, s.name, 1) for s in trial.layout.streams for tick in pattern.ticks]
    result = trial.run(arrivals, limit=TICK_LIMIT)
    items, streams = len(pattern.ticks), range(len(trial.layout.streams))
    passed = all(_is_split(result, i, items, bench.terms) for i in streams) and _ended_well(result)
    return TrialRecord(bench.handover, items, 1, result, passed, pattern.name, pattern.ticks[-1])


def _is_split(result: TrialResult, stream: int, put: int, terms: Terms) -> bool:
    """Of so many items put in, every target got as many, and the nodes hold what is left: no more than they may."""
    one = result.streams[stream]
    kept = one.held - one.held_at_start
    return one.spread == 0 and sum(one.delivered) + kept == put and 0 <= kept <= terms.held_most


def _ended_well(result: TrialResult) -> bool:
    return result.at_rest and not result.stopped and not result.findings
