"""What a confirmed hall is measured by."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from sim.layout import Layout
from sim.parts import Furnace
from sim.rulebook import Rules
from synth.built import Built, built_figures
from synth.confirm import LOADS
from synth.hall.confirm import HallTrial
from synth.hall.spec import HallSpec


@dataclass(frozen=True, slots=True)
class HallMeasures(Built):
    """Figures of one hall, beyond those of any build.

    ``latency``: ticks to the last arrival of one item a furnace; ``output``: products an hour after warm-up, of a
    production run; ``bound``: what the furnaces could make; ``handovers`` under which every trial passed;
    ``held_at_start``: items that the nodes start with; ``held``: items in nodes at rest, the most after any trial.
    """

    latency: int
    output: Fraction
    bound: Fraction
    handovers: tuple[int, ...]
    held: int
    held_at_start: int

    def as_json(self) -> dict[str, Any]:
        """The measures as they stand in ``--json`` documents."""
        return {
            **self.built_json(),
            "latency": self.latency,
            "throughput": float(round(self.output, 1)),
            "bound": float(round(self.bound, 1)),
            "handovers": list(self.handovers),
            "held": self.held,
            "held_at_start": self.held_at_start,
        }


def furnace_bound(layout: Layout, rules: Rules) -> Fraction:
    """Products an hour when every furnace fires without a break: furnaces x 3600 x ticks a second / firing."""
    furnaces = sum(isinstance(part, Furnace) for part in layout.parts)
    return Fraction(furnaces * 3600 * rules.ticks_per_second, rules.firing)


def hall_measured(layout: Layout, trials: list[HallTrial], output: Fraction, spec: HallSpec) -> HallMeasures:
    """The measures of a hall whose trials passed; the first of ``trials`` is of one item a furnace."""
    results = [trial.result for trial in trials]
    starts = {stream.item: one.held_at_start for stream, one in zip(layout.streams, results[0].streams, strict=True)}
    return HallMeasures(
        **built_figures(layout, lambda kind: spec.limit(kind).price),
        latency=latency_of(trials),
        output=output,
        bound=furnace_bound(layout, spec.rules),
        handovers=tuple(dict.fromkeys(trial.handover for trial in trials)),
        held=max(_held(layout, trial) for trial in trials),
        held_at_start=sum(starts.values()),
    )


def latency_of(trials: list[HallTrial]) -> int:
    """Ticks from a load of one item a furnace to the last arrival; where rows keep a first such load, of a second."""
    first, second = trials[0], trials[LOADS.index((1, 2))]
    trial = first if all(sum(one.delivered) for one in first.result.streams) else second
    return max((one.last_arrival or 0) - trial.began for one in trial.result.streams)


def hall_rank(measures: HallMeasures, order: tuple[str, ...]) -> tuple[float, ...]:
    """Sort key: the measures of the spec's order, smaller first; throughput larger first."""
    return tuple(
        -float(measures.output) if name == "throughput" else float(getattr(measures, name)) for name in order
    )


def _held(layout: Layout, trial: HallTrial) -> int:
    """Items in nodes at the end; told by kind, so each kind once."""
    held = {s.item: one.held for s, one in zip(layout.streams, trial.result.streams, strict=True)}
    return sum(held.values())
