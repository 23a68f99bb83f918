"""What a confirmed layout is measured by, and the ranking that a spec asks for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sim.world.layout import Layout
from sim.world.rulebook import Rules
from sim.world.trial import StreamResult
from synth.ask.spec import Spec
from synth.confirm.built import Built, built_figures
from synth.confirm.confirmation import Confirmation
from synth.confirm.loads import Load, load_text
from synth.confirm.trials import TrialRecord, held_in_nodes

TRICKLING: Final = "trickling"
"""The spread over all trials in which items trickled in."""


@dataclass(frozen=True, slots=True)
class Measures(Built):
    """Figures of one layout, beyond those of any build.

    ``loads`` that it was tried with, there at once. ``first_arrival`` and ``latency`` (last arrival) in ticks for one
    item a target; where nodes hold such a load back, for a second one after it, or a larger one. ``throughput`` in
    items an hour over the largest of the loads without another before it; ``spread`` by load ("18N", "18N twice", ...);
    ``handovers`` under which every trial passed.
    ``steady``: items an hour of the slowest stream in steady flow (None: there is room for one load only, which does
    not tell). ``held``: items in nodes at rest, the most after any trial; ``held_at_start``: what the nodes start with.
    """

    first_arrival: int
    latency: int
    throughput: float
    spread: Mapping[str, int]
    handovers: tuple[int, ...]
    loads: tuple[Load, ...]
    steady: float | None = None
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
    records = confirmation.under(rules.handover)
    first, singles = first_delivering(records), single_loads(records)
    largest = singles[-1].result
    spreads: dict[str, int] = {}
    for record in records:
        name = TRICKLING if record.pattern else load_text(*record.load)
        spreads[name] = max(spreads.get(name, 0), *(one.spread for one in record.result.streams))
    return Measures(
        **built_figures(layout, lambda kind: spec.limit(kind).price),
        first_arrival=min(max(0, (one.first_arrival or 0) - first.began) for one in first.result.streams),
        latency=latency(first),
        throughput=_items_an_hour(largest.streams, rules),
        spread=spreads,
        handovers=confirmation.handovers,
        loads=loads_of(records),
        steady=steady_flow(confirmation, rules.handover, rules) if len(singles) > 1 else None,
        held=most_held(layout, (record for record in confirmation.records if record.passed)),
        held_at_start=sum(held_in_nodes(layout, largest, at_start=True).values()),
    )


def loads_of(records: Iterable[TrialRecord]) -> tuple[Load, ...]:
    """The loads of the trials in which all was there at once."""
    return tuple(dict.fromkeys(record.load for record in records if not record.pattern))


def single_loads(records: Sequence[TrialRecord]) -> list[TrialRecord]:
    """The trials of one load that is there at once, the smallest first."""
    return sorted((r for r in records if not r.pattern and r.times == 1), key=lambda r: r.per_target)


def first_delivering(records: Sequence[TrialRecord]) -> TrialRecord:
    """Of the trials under one handover, that of the smallest load of which every stream delivers something: one item a
    target; where nodes hold that back, a second one after it, or a larger one."""
    loads = sorted((record for record in records if not record.pattern), key=lambda record: record.load)
    return next(record for record in loads if all(any(one.delivered) for one in record.result.streams))


def latency(record: TrialRecord) -> int:
    """Ticks from the load, the last one of several, to the last arrival."""
    return max((one.last_arrival or 0) - record.began for one in record.result.streams)


def most_held(layout: Layout, records: Iterable[TrialRecord]) -> int:
    """Items in nodes at rest, the most after any of the trials."""
    return max(sum(held_in_nodes(layout, record.result).values()) for record in records)


def steady_flow(confirmation: Confirmation, handover: int, rules: Rules) -> float:
    """Items an hour of the slowest stream between the two largest loads that are there at once: no filling up, no
    running dry. (There must be two; a spec that demands a flow has room for them.)"""
    *_, short, long = (record.result.streams for record in single_loads(confirmation.under(handover)))
    hour = rules.ticks_per_second * 3600
    return min(
        (sum(more.delivered) - sum(less.delivered)) * hour / max(1, (more.last_arrival or 0) - (less.last_arrival or 0))
        for less, more in zip(short, long, strict=True)
    )


def _items_an_hour(streams: Sequence[StreamResult], rules: Rules) -> float:
    """The slowest stream's items over the time to its last arrival."""
    hour = rules.ticks_per_second * 3600
    return min(sum(s.delivered) * hour / max(1, s.last_arrival or 1) for s in streams)


def rank_key(measures: Measures, order: tuple[str, ...]) -> tuple[float, ...]:
    """Sort key: the measures of the spec's order, smaller first; throughput larger first."""
    return tuple(-measures.throughput if name == "throughput" else getattr(measures, name) for name in order)
