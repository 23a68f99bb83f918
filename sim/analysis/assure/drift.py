"""Loads one after another without reset: every sequence of them, by search over the states at rest.

A load that is put in at rest leads from one state at rest to another. The states at rest that can be come to are few
(often one: that of the start), so that the search over every sequence of loads ends. The first load comes before tick
1, or when what the layout starts with has come to rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from sim.analysis.assure.arrivals import contents_of
from sim.analysis.assure.replay import arrivals_of, outcome_of
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import TICKS_MOST, Outcome, Subject, Workspace, came_to, no_room
from sim.analysis.assure.verdict import Verdict
from sim.world.kernel import reach
from sim.world.kernel.batch import run_loads, run_next_load, tell
from sim.world.kernel.memory import FLUSHES
from sim.world.kernel.packing import GOOD, pack, row_size
from sim.world.kernel.places import FIRE, ITEMS, PROGRESS, TICK

ROUNDS: Final = 4
"""Loads of any number go up to so many times N."""
CHECKED_EVERY: Final = 16
"""Loads run between two looks at the clock."""


@dataclass(slots=True)
class Rests:
    """States at rest, as rows; the loads that lead to each, one after another."""

    rows: dict[bytes, tuple[int, ...]] = field(default_factory=dict)
    todo: list[bytes] = field(default_factory=list)

    def add(self, row: bytes, loads: tuple[int, ...]) -> None:
        """Note a state, with the loads that led to it first."""
        if row not in self.rows:
            self.rows[row] = loads
            self.todo.append(row)


def drift(subject: Subject, request: Request) -> Iterator[Verdict]:
    """Every sequence of multiples of N, then every sequence of small loads."""
    n = subject.per_round
    multiples = range(n, subject.room + 1, n)
    when = "each put in at rest, cooldowns over"
    scope = subject.scope(f"any sequence of loads of k*{n} items, k = 1..{len(multiples)}, {when}")
    yield replace(_verdict(subject, request, multiples, scope), about="multiples")
    most = min(subject.room, ROUNDS * n)
    scope = subject.scope(f"any sequence of loads of 1..{most} items, {when}")
    yield replace(_verdict(subject, request, range(1, most + 1), scope), about="any number")


def _verdict(subject: Subject, request: Request, counts: Sequence[int], scope: str) -> Verdict:
    """``noted`` where it is proved: the ``first`` of the loads, and the ``ticks`` in which it comes to rest at the
    latest, whatever came before."""
    if not counts:
        return no_room("drift", subject, scope)
    walk = _Walk(subject)
    done = slowest = 0
    while walk.rests.todo or not walk.rests.rows:
        row = walk.rests.todo.pop(0) if walk.rests.rows else None
        for i, count in enumerate(counts if walk.rests.rows else (0, *counts)):
            if i % CHECKED_EVERY == 0 and request.is_over():
                text = f"time was up after {done} loads from {len(walk.rests.rows)} states at rest; none uneven"
                return Verdict("drift", "open", scope, text, done, subject.handover, states=len(walk.rests.rows))
            loads = (*walk.rests.rows.get(row or b"", ()), count)
            outcome, after = walk.loaded(row, count)
            if not count and not (outcome.rested and outcome.last_change):
                continue  # it stands as it starts, or never comes to rest by itself
            done += count > 0
            if count == counts[0]:
                slowest = max(slowest, outcome.last_change - (0 if row is None else reach.AT_TICK))
            if count and not outcome.is_even:
                return _refuted(subject, loads, scope, done, len(walk.rests.rows))
            if after is None:
                text = f"none uneven in {done} loads; {walk.why_lost}"
                return Verdict("drift", "open", scope, text, done, subject.handover, states=len(walk.rests.rows))
            walk.rests.add(after, loads)
    states = len(walk.rests.rows)
    if walk.burns:
        text = f"even in {done} loads, each put in as soon as it may be; a fire burns on then, and waiting may matter"
        return Verdict("drift", "open", scope, text, done, subject.handover, states=states)
    ends = "each ends as the one before" if states == 1 else f"{states} states at rest lead to one another"
    text = f"even after every one of them; {ends}"
    noted = {"first": counts[0], "ticks": slowest}
    return Verdict("drift", "proved", scope, text, done, subject.handover, states=states, noted=noted)


class _Walk:
    """Loads from one state at rest to the next."""

    def __init__(self, subject: Subject) -> None:
        self.subject, self.rests = subject, Rests()
        self.space = Workspace(subject.tables, 1 << 14)
        self.contents = contents_of(subject)
        self.why_lost, self.burns = "", False
        self.row = np.zeros(row_size(subject.tables.w, self.contents), np.uint8)

    def loaded(self, row: bytes | None, count: int) -> tuple[Outcome, bytes | None]:
        """What a load put in at a state at rest (None: before tick 1) comes to, as spreads, and the state behind it.

        No state: a row cannot tell it (``why_lost``).
        """
        t, space, results = self.subject.tables, self.space, self.subject.new_results(1)
        loads = self.subject.loads([count])
        if row is None:
            space.s[:] = t.start
            rested = run_loads(
                t.w, space.s, space.x, space.m, self.subject.order, self.subject.sources, loads, TICKS_MOST, results
            )
        else:
            known = np.frombuffer(row, np.uint8)
            space.s[TICK] = reach.AT_TICK
            rested = run_next_load(
                t.w, space.s, space.x, space.m, self.contents, known, self.subject.order, self.subject.sources,
                loads[0], TICKS_MOST,
            )
        tell(t.w, space.s, rested, results[0])
        outcome = self.subject.outcomes(results)[0]
        packed = pack(t.w, space.s, self.contents, self.row)
        fires = (int(space.s[t.w[at] + furnace]) for furnace in self.contents.acting for at in (FIRE, PROGRESS))
        self.burns = self.burns or any(fires)
        if any(space.s[t.w[ITEMS] + store] for store, _, _ in self.subject.sources):
            self.why_lost = "but items stay in a source at rest, which rows do not tell of"
            return outcome, None
        if packed != GOOD or space.m.counts[FLUSHES]:
            self.why_lost = "but the states at rest are too many or too large to be kept"
            return outcome, None
        return outcome, self.row.tobytes()


def _refuted(subject: Subject, loads: Sequence[int], scope: str, done: int, states: int) -> Verdict:
    arrivals = arrivals_of(subject, loads)
    outcome = outcome_of(subject, arrivals)
    when = "" if loads[0] else "once what it starts with has come to rest, "
    text = f"{when}{' then '.join(str(count) for count in loads if count)} items {came_to(outcome)}"
    return subject.failed("drift", scope, text, done, outcome, arrivals, states=states)
