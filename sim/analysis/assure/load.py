"""One load that is there at once: of every size that the sources have room for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import TICKS_MOST, Outcome, Subject, Workspace, came_to, no_room
from sim.analysis.assure.verdict import Verdict
from sim.world.files.places import counted
from sim.world.kernel.batch import each_load

CHUNK: Final = 64
"""Loads run between two looks at the clock."""


def loads(subject: Subject, request: Request) -> Iterator[Verdict]:
    """Every multiple of N up to full sources, then every number. Time: cubic in N at most (items x ticks x nodes)."""
    yield multiples(subject, request)
    numbers = range(1, subject.room + 1)
    scope = subject.scope(f"one load of any number of items, 1..{subject.room}")
    yield replace(_verdict(subject, request, numbers, scope), about="any number")


def multiples(subject: Subject, request: Request) -> Verdict:
    """One load of every multiple of N."""
    n = subject.per_round
    counts = range(n, subject.room + 1, n)
    scope = subject.scope(f"one load of k*{n} items, k = 1..{len(counts)}")
    return replace(_verdict(subject, request, counts, scope), about="multiples")


def outcomes_of(subject: Subject, request: Request, counts: Sequence[int]) -> Iterator[tuple[int, Outcome]]:
    """What each load comes to, until time is up."""
    space, t = Workspace(subject.tables), subject.tables
    for first in range(0, len(counts), CHUNK):
        if request.is_over():
            return
        chunk = counts[first : first + CHUNK]
        results = subject.new_results(len(chunk))
        each_load(
            t.w, t.start, space.s, space.x, space.m, subject.order, subject.sources, subject.loads(chunk), TICKS_MOST,
            results,
        )
        yield from zip(chunk, subject.outcomes(results), strict=True)


def _verdict(subject: Subject, request: Request, counts: Sequence[int], scope: str) -> Verdict:
    """Even for all, or the smallest that is not.

    ``noted`` where it is proved: the ``first`` load and the ``most``; ``held``, the most that any of them leaves in
    nodes beyond the ``start``, what they begin with; ``least``, the first of which every output gets some (0: none).
    """
    if not counts:
        return no_room("load", subject, scope)
    done, held, worst, delivered = 0, 0, 0, [0] * len(subject.streams)
    least = 0
    for count, outcome in outcomes_of(subject, request, counts):
        done += 1
        if not outcome.is_even:
            return _refuted(subject, count, outcome, scope, done)
        if not least and all(all(shares) for shares in outcome.delivered):
            least = count
        held = max(held, outcome.held - subject.held_at_start)
        delivered = [so_far + sum(shares) for so_far, shares in zip(delivered, outcome.delivered, strict=True)]
        worst = max(worst, *(max(shares) - min(shares) for shares in outcome.delivered))
    even = "spread 0" if not worst else f"spread at most {worst}, 0 where the number delivered can be shared out"
    if nothing := [stream.name for stream, items in zip(subject.streams, delivered, strict=True) if not items]:
        even = f"nothing of {', '.join(nothing)} is delivered, {even}" if any(delivered) else "nothing is delivered"
    if done < len(counts):
        text = f"even up to {counts[done - 1]} items; then time was up" if done else "time was up"
        return Verdict("load", "open", scope, text, done, subject.handover)
    noted = {"first": counts[0], "most": counts[-1], "held": held, "least": least, "start": subject.held_at_start}
    return Verdict("load", "proved", scope, f"{even}, {_left(subject, held)}", done, subject.handover, noted=noted)


def _left(subject: Subject, held: int) -> str:
    """What stays in the nodes: at most ``held`` items more than at the start."""
    stays = f"at most {counted(held, 'item')} left in nodes" if held else "nothing stays in the nodes"
    beyond = f" beyond the {subject.held_at_start} that they start with" if subject.held_at_start else ""
    return f"{stays}{beyond}{' while outputs are emptied' if subject.sinks else ''}"


def _refuted(subject: Subject, count: int, outcome: Outcome, scope: str, done: int) -> Verdict:
    arrivals = [(0, k, count) for k in range(len(subject.streams))]
    return subject.failed("load", scope, f"{count} items {came_to(outcome)}", done, outcome, arrivals)
