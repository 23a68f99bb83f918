"""What a confirmed hall is measured by."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final

from sim.world.layout import Layout
from sim.world.parts import Furnace
from sim.world.rulebook import Rules
from synth.ask.hall_spec import HallSpec
from synth.confirm.built import Built, built_figures
from synth.confirm.loads import Load
from synth.confirm.measures import first_delivering, latency, loads_of, most_held
from synth.confirm.trials import TrialRecord, held_in_nodes

FULL: Final = Fraction(99, 100)
"""Share of what the furnaces can fire that counts as their full speed: measured after warm-up, in whole products."""


@dataclass(frozen=True, slots=True)
class HallMeasures(Built):
    """Figures of one hall, beyond those of any build.

    ``latency``: ticks to the last arrival of one item a furnace (where rows keep a first such load: of a second);
    ``output``: products an hour after warm-up, of a production run; ``bound``: what the furnaces could make;
    ``handovers`` under which every trial passed; ``held_at_start``: items that the nodes start with; ``held``: items in
    nodes at rest, the most after any trial; ``loads`` that it was tried with, there at once; ``trickled``: items a
    furnace that came one by one, of streams that are to be even for that (0: none is).
    """

    latency: int
    output: Fraction
    bound: Fraction
    handovers: tuple[int, ...]
    held: int
    held_at_start: int
    loads: tuple[Load, ...]
    trickled: int

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


def output_wanted(layout: Layout, spec: HallSpec) -> Fraction:
    """Products an hour that a hall of the spec must make."""
    return furnace_bound(layout, spec.rules) * FULL if spec.output is None else spec.output


def hall_measured(layout: Layout, trials: list[TrialRecord], output: Fraction, spec: HallSpec) -> HallMeasures:
    """The measures of a hall whose trials passed."""
    under = [trial for trial in trials if trial.handover == trials[0].handover]
    return HallMeasures(
        **built_figures(layout, lambda kind: spec.limit(kind).price),
        latency=latency(first_delivering(under)),
        output=output,
        bound=furnace_bound(layout, spec.rules),
        handovers=tuple(dict.fromkeys(trial.handover for trial in trials)),
        held=most_held(layout, trials),
        held_at_start=sum(held_in_nodes(layout, trials[0].result, at_start=True).values()),
        loads=loads_of(under),
        trickled=next((trial.per_target for trial in under if trial.pattern), 0),
    )


def hall_rank(measures: HallMeasures, order: tuple[str, ...]) -> tuple[float, ...]:
    """Sort key: the measures of the spec's order, smaller first; throughput larger first."""
    return tuple(
        -float(measures.output) if name == "throughput" else float(getattr(measures, name)) for name in order
    )
