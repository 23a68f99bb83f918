"""What a confirmed layout is measured by, and the ranking that a spec asks for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sim.layout import Layout
from sim.rulebook import Rules
from sim.trial import StreamResult
from synth.built import Built, built_figures
from synth.confirm import LOADS, Confirmation, TrialRecord
from synth.schemes.registry import scheme_of
from synth.spec import Spec

LATENCY_LOAD: Final = 1
"""Items a target of the trial that latency is taken from."""
THROUGHPUT_LOAD: Final = 18
"""Items a target of the trial that throughput is taken from."""
SHORT_LOAD: Final = 2
"""Items a target of the trial against which the steady flow is taken."""
TRICKLING: Final = "trickling"
"""The spread over all trials in which items trickled in."""


@dataclass(frozen=True, slots=True)
class Measures(Built):
    """Figures of one layout, beyond those of any build.

    ``first_arrival`` and ``latency`` (last arrival) in ticks for one item a target; ``throughput`` in items an hour
    over a load of 18 a target; ``spread`` by load ("18N", "18N twice", ...); ``handovers`` under which every trial
    passed.
    Where nodes hold items back, arrivals are counted from a second load of one item a target.
    ``steady``: items an hour of the slowest stream in steady flow. ``held``: items in nodes at rest, the most after any
    trial; ``held_at_start``: what the nodes start with.
    """

    first_arrival: int
    latency: int
    throughput: float
    spread: Mapping[str, int]
    handovers: tuple[int, ...]
    steady: float = 0.0
    held: int = 0
    held_at_start: int = 0

    def as_json(self) -> dict[str, Any]:
        """The measures as they stand in ``--json`` documents."""
        return {
            **self.built_json(),
            "first_arrival": self.first_arrival,
            "latency": self.latency,
            "throughput": round(self.throughput, 1),
            "spread": dict(self.spread),
            "handovers": list(self.handovers),
        }


def measured(layout: Layout, confirmation: Confirmation, spec: Spec) -> Measures:
    """The measures of a layout that was confirmed under the handover in force."""
    rules = spec.rules
    short = _latency_record(confirmation, spec)
    long = confirmation.record(rules.handover, THROUGHPUT_LOAD).result
    spreads = {
        load_text(per, times): max(s.spread for s in confirmation.record(rules.handover, per, times).result.streams)
        for per, times in LOADS
    }
    if trickled := [s.spread for r in confirmation.trickled(rules.handover) for s in r.result.streams]:
        spreads[TRICKLING] = max(trickled)
    return Measures(
        **built_figures(layout, lambda kind: spec.limit(kind).price),
        first_arrival=min(max(0, (s.first_arrival or 0) - short.began) for s in short.result.streams),
        latency=max(max(0, (s.last_arrival or 0) - short.began) for s in short.result.streams),
        throughput=_items_an_hour(long.streams, rules),
        spread=spreads,
        handovers=confirmation.handovers,
        steady=steady_flow(confirmation, rules.handover, rules),
        held=max(sum(s.held for s in r.result.streams) for r in confirmation.records if r.passed),
        held_at_start=sum(s.held_at_start for s in long.streams),
    )


def _latency_record(confirmation: Confirmation, spec: Spec) -> TrialRecord:
    """The trial of one item a target; where nodes hold such a load back, that of a second one after it."""
    times = 2 if scheme_of(spec).held(spec.outputs) else 1
    return confirmation.record(spec.rules.handover, LATENCY_LOAD, times)


def steady_flow(confirmation: Confirmation, handover: int, rules: Rules) -> float:
    """Items an hour of the slowest stream between a short and a long load: no filling up, no running dry."""
    short = confirmation.record(handover, SHORT_LOAD).result.streams
    long = confirmation.record(handover, THROUGHPUT_LOAD).result.streams
    hour = rules.ticks_per_second * 3600
    return min(
        (sum(more.delivered) - sum(less.delivered)) * hour / max(1, (more.last_arrival or 0) - (less.last_arrival or 0))
        for less, more in zip(short, long, strict=True)
    )


def load_text(per_target: int, times: int) -> str:
    """"18N", or "18N twice"."""
    count = "N" if per_target == 1 else f"{per_target}N"
    return count if times == 1 else f"{count} twice"


def _items_an_hour(streams: Sequence[StreamResult], rules: Rules) -> float:
    """The slowest stream's items over the time to its last arrival."""
    hour = rules.ticks_per_second * 3600
    return min(sum(s.delivered) * hour / max(1, s.last_arrival or 1) for s in streams)


def rank_key(measures: Measures, order: tuple[str, ...]) -> tuple[float, ...]:
    """Sort key: the measures of the spec's order, smaller first; throughput larger first."""
    return tuple(-measures.throughput if name == "throughput" else getattr(measures, name) for name in order)
