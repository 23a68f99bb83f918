"""Arrivals run by themselves, and loads one after another as arrivals: for counterexamples."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sim.analysis.assure.subject import TICKS_MOST, Outcome, Pattern, Subject, Workspace
from sim.world.kernel.batch import run_arrivals, run_loads, tell
from sim.world.kernel.places import TICK, Numbers


def outcome_of(subject: Subject, arrivals: Pattern, order: Numbers | None = None) -> Outcome:
    """What a pattern of arrivals comes to. ``order``: machine numbers (default: the file order)."""
    t, space, results = subject.tables, Workspace(subject.tables), subject.new_results(1)
    turns = subject.order if order is None else order
    rows = np.array(arrivals, np.int32).reshape(-1, 3)
    rested = run_arrivals(t.w, space.s, space.x, space.m, turns, subject.sources, rows, TICKS_MOST)
    tell(t.w, space.s, rested, results[0])
    return subject.outcomes(results)[0]


def arrivals_of(subject: Subject, counts: Sequence[int], order: Numbers | None = None) -> list[tuple[int, int, int]]:
    """Loads of every stream as arrivals: each when the one before has come to rest and every cooldown is over.

    A load of nothing first: the next one comes when what the layout starts with has come to rest.
    """
    t, space = subject.tables, Workspace(subject.tables)
    turns = subject.order if order is None else order
    arrivals: list[tuple[int, int, int]] = []
    for i, count in enumerate(counts):
        tick = 0
        if i:
            space.s[:] = t.start
            before, results = subject.loads(counts[:i]), subject.new_results(i)
            run_loads(t.w, space.s, space.x, space.m, turns, subject.sources, before, TICKS_MOST, results)
            tick = int(space.s[TICK])
        arrivals += [(tick, k, count) for k in range(len(subject.streams)) if count]
    return arrivals
