"""What a layout measures, without any spec: by what is built, and by trials of it in the simulator."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from sim.errors import InputError
from sim.world.layout import Layout
from sim.world.rulebook import Rules
from sim.world.signals.wiring import Wiring, wiring_of
from sim.world.trial import DEFAULT_LOAD_PER_TARGET, Arrival, Outcome, Trial, TrialResult
from synth.confirm.built import Built, built_figures
from synth.confirm.confirmation import handovers_to_try
from synth.confirm.trials import TICK_LIMIT, held_in_nodes

OUTCOME_PHRASES: Final[Mapping[Outcome, str]] = {
    "even": "sheet.even",
    "uneven": "sheet.uneven",
    "nothing": "sheet.nothing_delivered",
    "unfinished": "sheet.unfinished",
}
"""How an outcome is said."""
LATENCY_LOAD: Final = 1
"""Items a target of the load that latency is taken from."""
LOADS_MOST: Final = 64
"""Such loads that are put in, one after the other, where nodes keep what comes first."""
SHORT_LOAD: Final = 2
"""Items a target of the load against which the steady flow is taken."""
ROUNDS: Final = (DEFAULT_LOAD_PER_TARGET, 6, 2, 1)
"""Items a target that are tried where the layout itself decides, in this order: the first for which there is room."""


@dataclass(frozen=True, slots=True)
class DefaultRun:
    """What came of the default load (18 items a target, there at once) under one handover.

    ``delivered``: by stream, to each output; empty where only the outcome is known. ``per_target``: items a target that
    were put in, fewer than 18 where a source has no room for so many.
    """

    handover: int
    outcome: Outcome
    delivered: Mapping[str, tuple[int, ...]]
    per_target: int = DEFAULT_LOAD_PER_TARGET


@dataclass(frozen=True, slots=True)
class LayoutMeasures(Built):
    """Figures of one layout, beyond those of any build; all but ``runs`` under the handover in force.

    ``latency``: ticks to the last arrival of one item a target, there at once; where nodes keep of such a load, of
    the first one after it of which something comes. ``throughput``: items an hour of the slowest stream, over the
    default load, from when it is put in to the last arrival (None where there is no room for that load). ``steady``:
    items an hour of each stream between a short load and that of ``runs``. None, and none: nothing arrived. ``held``:
    items in nodes at the end of a trial, the most of any; ``held_at_start``: what the nodes start with. ``runs``: the
    default load, or the most of ``ROUNDS`` that there is room for, under each handover, the one in force first;
    empty: the layout has no stream, or no room for even one item a target.
    """

    latency: int | None
    throughput: float | None
    steady: Mapping[str, float]
    held: int
    held_at_start: int
    runs: tuple[DefaultRun, ...]


def measured_layout(layout: Layout, rules: Rules, prices: Mapping[str, int]) -> LayoutMeasures:
    """The measures of a layout by five trials at most (two of one item a target).

    ``rules``: the rulebook that the layout overrides; ``prices``: of one part, by kind (one that is not named: 1).
    """
    built = built_figures(layout, lambda kind: prices.get(kind, 1))
    bench = _Bench(layout, rules, wiring_of(layout)) if layout.streams else None
    force, *others = handovers_to_try(layout.rules_in_force(rules))
    per_target = None if bench is None else bench.most(force)
    if bench is None or per_target is None:
        return LayoutMeasures(**built, latency=None, throughput=None, steady={}, held=0, held_at_start=0, runs=())
    latency, first = bench.latency(force)
    long = bench.load(force, per_target)
    short = bench.load(force, SHORT_LOAD) if per_target > SHORT_LOAD else long
    runs = [_run(force, long, per_target)]
    runs += [_run(handover, bench.load(handover, per_target), per_target) for handover in others]
    hour = 3600 * rules.ticks_per_second
    return LayoutMeasures(
        **built,
        latency=latency,
        throughput=_throughput(long, hour) if per_target == DEFAULT_LOAD_PER_TARGET else None,
        steady=_steady(short, long, hour),
        held=max(sum(held_in_nodes(layout, result).values()) for result in (*first, short, long)),
        held_at_start=sum(held_in_nodes(layout, long, at_start=True).values()),
        runs=tuple(runs),
    )


def default_run(layout: Layout, rules: Rules, handover: int, per_target: int) -> DefaultRun:
    """A load of so many items a target under a handover. Raises InputError where there is no room for it."""
    result = _Bench(layout, rules, wiring_of(layout)).load(handover, per_target)
    return _run(handover, result, per_target)


@dataclass(frozen=True, slots=True)
class _Bench:
    layout: Layout
    rules: Rules
    wiring: Wiring

    def trial(self, handover: int) -> Trial:
        under = replace(self.layout, rules={**self.layout.rules, "handover": handover})
        return Trial(under, self.rules, wiring=self.wiring)

    def arrivals(self, per_target: int) -> list[Arrival]:
        return [Arrival(0, stream.name, per_target * len(stream.outputs)) for stream in self.layout.streams]

    def load(self, handover: int, per_target: int) -> TrialResult:
        return self.trial(handover).run(self.arrivals(per_target), limit=TICK_LIMIT)

    def most(self, handover: int) -> int | None:
        """The first of ``ROUNDS`` that there is room for; None: for none of them."""
        return next((rounds for rounds in ROUNDS if self._has_room(handover, rounds)), None)

    def _has_room(self, handover: int, per_target: int) -> bool:
        """The load goes in before tick 1, so a run of no ticks tells."""
        trial = self.trial(handover)
        try:
            trial.run(self.arrivals(per_target), ticks=0)
        except InputError:
            return False
        return True

    def latency(self, handover: int) -> tuple[int | None, list[TrialResult]]:
        """Ticks from a load to its last arrival, and the results of the loads that tell it: one, where nothing is kept
        of it; else more of them, until something comes of one in every stream."""
        trial, began = self.trial(handover), 0
        results = [trial.run(self.arrivals(LATENCY_LOAD), limit=TICK_LIMIT)]
        keeps = results[0].at_rest and any(one.held > one.held_at_start for one in results[0].streams)
        came: int | None = None if keeps else _last_arrival(results[0], began)
        while keeps and came is None and results[-1].at_rest and len(results) < LOADS_MOST:
            began = trial.world.tick
            try:
                results.append(trial.run(self.arrivals(LATENCY_LOAD), limit=TICK_LIMIT))
            except InputError:  # what was put in is still in the source, and fills it
                break
            came = _last_arrival(results[-1], began)
        return (None if came is None else came - began), results


def _last_arrival(result: TrialResult, began: int) -> int | None:
    """The last one since then; None: nothing has come since, in some stream."""
    last = [one.last_arrival for one in result.streams]
    came = [tick for tick in last if tick is not None and tick >= began]
    return max(came) if len(came) == len(last) else None


def _run(handover: int, result: TrialResult, per_target: int) -> DefaultRun:
    return DefaultRun(handover, result.outcome, {one.name: one.delivered for one in result.streams}, per_target)


def _throughput(long: TrialResult, hour: int) -> float | None:
    if any(one.last_arrival is None for one in long.streams):
        return None
    return min(sum(one.delivered) * hour / max(1, one.last_arrival or 1) for one in long.streams)


def _steady(short: TrialResult, long: TrialResult, hour: int) -> dict[str, float]:
    """No filling up, no running dry: what the longer load brings more, over the time that it takes longer."""
    found = {}
    for less, more in zip(short.streams, long.streams, strict=True):
        ticks = (more.last_arrival or 0) - (less.last_arrival or 0)
        items = sum(more.delivered) - sum(less.delivered)
        if items > 0 and ticks > 0:
            found[more.name] = items * hour / ticks
    return found
