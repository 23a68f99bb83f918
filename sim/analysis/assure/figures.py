"""Figures beside the verdicts: steady throughput, what stays inside at rest and where, fairness."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final

import numpy as np

from sim.analysis.assure.arrivals import contents_of
from sim.analysis.assure.clearing import Leftovers, clearing
from sim.analysis.assure.subject import SIGNAL_STATES, TICKS_MOST, Subject, Workspace
from sim.world.geometry import Cell, cell_text
from sim.world.kernel import reach
from sim.world.kernel.packing import row_size
from sim.world.kernel.running import start
from sim.world.parts import Node
from sim.world.trial import DEFAULT_LOAD_PER_TARGET, Arrival, TrialResult, run_trial

STEADY_STATES: Final = 1 << 16
"""Ticks in which a steady flow has to repeat itself."""


@dataclass(frozen=True, slots=True)
class Steady:
    """Steady flow of one stream out of a source that is never empty: ``items`` in each ``ticks``, again and again.

    ``share``: of what the source's node can pass on at best, one item a period.
    """

    stream: str
    items: int
    ticks: int
    share: Fraction


@dataclass(frozen=True, slots=True)
class Fairness:
    """Of one stream, for the default load: Jain's index, the largest lag and the tick that first had it."""

    stream: str
    delivered: tuple[int, ...]
    jain: Fraction
    largest_lag: int
    largest_lag_tick: int | None


@dataclass(frozen=True, slots=True)
class Figures:
    """Under one handover. ``steady`` None: the flow did not repeat itself in the ticks that were looked at.

    ``load``: items a target of the run that the rest is taken from; ``held``: items in nodes at the end of it, by cell;
    ``leftovers``: how to get them out (None: nothing is left, or the run starts with some).
    """

    handover: int
    load: int
    steady: tuple[Steady, ...] | None
    fairness: tuple[Fairness, ...]
    held: tuple[tuple[Cell, int], ...]
    leftovers: Leftovers | None = None

    def as_json(self) -> dict[str, Any]:
        """The figures as they stand in ``--json`` documents."""
        steady = None if self.steady is None else [
            {"stream": one.stream, "items": one.items, "ticks": one.ticks, "share": round(float(one.share), 6)}
            for one in self.steady
        ]
        fairness = [
            {
                "stream": one.stream, "delivered": list(one.delivered), "jain": round(float(one.jain), 6),
                "largest_lag": one.largest_lag, "largest_lag_tick": one.largest_lag_tick,
            }
            for one in self.fairness
        ]
        held = {cell_text(cell): count for cell, count in self.held}
        return {"handover": self.handover, "load": self.load, "steady": steady, "fairness": fairness, "held": held}


def figures_of(subject: Subject) -> Figures:
    """All figures of a layout under one handover.

    Time: that of one run of the default load and of the steady flow; where something is left in the nodes, one more run
    for each signal part.
    """
    per = min(DEFAULT_LOAD_PER_TARGET, subject.room // subject.per_round)
    result = default_run(subject, per)
    fairness = tuple(
        Fairness(s.name, s.delivered, s.jain, s.largest_lag, s.largest_lag_tick) for s in result.streams
    )
    nodes = [part.at for part in subject.layout.parts if isinstance(part, Node)]
    counts = [(cell, sum(slot[1] for slot in result.contents[cell] if slot is not None)) for cell in nodes]
    held = tuple((cell, count) for cell, count in counts if count)
    leftovers = clearing(subject.layout, result, subject.base)
    return Figures(subject.handover, per, steady_of(subject), fairness, held, leftovers)


def default_run(subject: Subject, per: int) -> TrialResult:
    """The simulator's run of ``per`` items a target."""
    load = [Arrival(0, stream.name, per * len(stream.outputs)) for stream in subject.streams]
    return run_trial(subject.layout, load, limit=TICKS_MOST, rules=subject.base)


def steady_of(subject: Subject) -> tuple[Steady, ...] | None:
    """Steady throughput, exactly: the cycle that the flow ends in."""
    if subject.why_not_searched is not None:
        return None
    t, contents, space = subject.tables, contents_of(subject), Workspace(subject.tables, SIGNAL_STATES)
    found = reach.new_explored(row_size(t.w, contents), STEADY_STATES)
    streams = subject.streams
    ticks, delivered = np.zeros(STEADY_STATES, np.int32), np.zeros(STEADY_STATES * len(streams), np.int32)
    totals, result = np.zeros(len(streams), np.int32), np.zeros(1 + len(streams), np.int32)
    start(t.w, space.s, space.m)
    end = reach.steady_flow(
        t.w, space.s, space.x, space.m, contents, found, subject.order, subject.sources, ticks, delivered, totals,
        result,
    )
    if end != reach.DONE:
        return None
    cycle, period = int(result[0]), t.rules.period
    return tuple(
        Steady(s.name, int(result[1 + i]), cycle, Fraction(int(result[1 + i]) * period, cycle))
        for i, s in enumerate(streams)
    )
