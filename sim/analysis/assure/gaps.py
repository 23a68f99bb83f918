"""Arrivals with gaps: every fixed gap, and random ones."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from typing import Final

import numpy as np

from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import SIGNAL_STATES, TICKS_MOST, Outcome, Subject, Workspace, came_to
from sim.analysis.assure.verdict import Verdict
from sim.world.files.places import counted
from sim.world.kernel.batch import EMPTIED, FULL, each_arrivals, one_gap

ROUNDS: Final = 18
"""Fixed gaps are followed for so many times N items, and looked at after each N."""
GAPS_MOST: Final = 4_000
"""Fixed gaps tried while none is found from which on every item comes to rest alone."""
PATTERNS: Final = 4_096
CHUNK: Final = 256
ITEMS_MOST: Final = 6
"""Random patterns have up to so many times N items."""


def gaps(subject: Subject, request: Request) -> Iterator[Verdict]:
    """Every fixed gap, then random gaps."""
    yield _fixed(subject, request)
    yield _random(subject, request)


def _fixed(subject: Subject, request: Request) -> Verdict:
    """One item each g ticks, g = 1, 2, ...: up to the gap in which every item comes to rest before the next one, so
    that larger gaps come to the same."""
    n = subject.per_round
    rounds = max(1, min(ROUNDS, subject.room // n))
    scope = subject.scope(f"one item every g ticks, every fixed g, k*{n} items, k = 1..{rounds}")
    space, t = Workspace(subject.tables, SIGNAL_STATES), subject.tables
    for gap in range(1, GAPS_MOST + 1):
        if request.is_over():
            text = f"even for g = 1..{gap - 1}; then time was up"
            return Verdict("gaps", "open", scope, text, gap - 1, subject.handover)
        results = subject.new_results(rounds)
        settled = one_gap(
            t.w, t.start, space.s, space.other, space.x, space.m, subject.order, subject.sources, gap, rounds, n,
            TICKS_MOST, results,
        )
        if settled == EMPTIED:
            text = f"even for g = 1..{gap - 1}; then more states of the signals than were kept"
            return Verdict("gaps", "open", scope, text, gap - 1, subject.handover)
        if settled == FULL:
            text = f"even for g = 1..{gap - 1}; for g = {gap} a source has no room for every item"
            return Verdict("gaps", "open", scope, text, gap - 1, subject.handover)
        for done, outcome in enumerate(subject.outcomes(results), start=1):
            if not outcome.is_even:
                return _fixed_refuted(subject, gap, done * n, outcome, scope)
        if settled:
            text = f"even for every g: from g = {gap} on each item comes to rest before the next one"
            return Verdict("gaps", "proved", scope, text, gap, subject.handover)
    text = f"even for g = 1..{GAPS_MOST}, but no gap was found from which on items come to rest alone"
    return Verdict("gaps", "open", scope, text, GAPS_MOST, subject.handover)


def _fixed_refuted(subject: Subject, gap: int, items: int, outcome: Outcome, scope: str) -> Verdict:
    arrivals = [(i * gap, k, 1) for i in range(items) for k in range(len(subject.streams))]
    text = f"{items} items, one every {gap} ticks, {came_to(outcome)}"
    return subject.failed("gaps", scope, text, gap, outcome, arrivals)


def _random(subject: Subject, request: Request) -> Verdict:
    """Patterns by chance; of those that are uneven the one with the fewest items is told."""
    rng = random.Random(request.seed)
    scope = subject.scope("random gaps", alike=False)
    space, t = Workspace(subject.tables), subject.tables
    tried, worst = 0, None
    while tried < PATTERNS and not request.is_over():
        patterns = [_pattern(subject, rng) for _ in range(CHUNK)]
        rows = np.array([one for pattern in patterns for one in pattern], np.int32)
        firsts = np.cumsum([0, *map(len, patterns)]).astype(np.int32)
        results = subject.new_results(CHUNK)
        each_arrivals(
            t.w, t.start, space.s, space.x, space.m, subject.order, subject.sources, rows, firsts, TICKS_MOST, results
        )
        tried += CHUNK
        for pattern, outcome in zip(patterns, subject.outcomes(results), strict=True):
            if not outcome.is_even and (worst is None or len(pattern) < len(worst[0])):
                worst = pattern, outcome
        if worst is not None:
            break
    if worst is not None:
        pattern, outcome = worst
        text = f"{counted(len(pattern), 'item')} up to tick {pattern[-1][0]} {came_to(outcome)}"
        return subject.failed("gaps", scope, text, tried, outcome, pattern, seed=request.seed)
    if not tried:
        return Verdict("gaps", "open", scope, "time was up", 0, subject.handover, seed=request.seed)
    text = f"even in all of {tried} random patterns of up to {_most(subject)} items"
    return Verdict("gaps", "tried", scope, text, tried, subject.handover, seed=request.seed)


def _most(subject: Subject) -> int:
    """Items of the longest pattern: so many rounds more as nodes keep back."""
    return min((ITEMS_MOST + subject.rounds_waiting) * subject.per_round, subject.room)


def _pattern(subject: Subject, rng: random.Random) -> list[tuple[int, int, int]]:
    """Items one by one with gaps of one sort or mixed ones, now and then several at once."""
    period = subject.tables.rules.period
    sorts: tuple[Callable[[], int], ...] = (
        lambda: rng.randint(0, 5 * period),
        lambda: rng.randint(period - 2, period + 2),
        lambda: rng.choice((1, period, 2 * period, 3 * period)) + rng.randint(-1, 1),
        lambda: rng.choice((0, 0, 0, rng.randint(0, 20 * period))),
    )
    found: list[tuple[int, int, int]] = []
    for k in range(len(subject.streams)):
        gap, tick = rng.choice(sorts), 0
        for _ in range(rng.randint(1, _most(subject))):
            found.append((tick, k, 1))
            tick += max(0, gap())
    return sorted(found)
