"""Do inverters overheat? In every load of k*N items and every fixed gap up to a few periods."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from sim.analysis.assure.load import outcomes_of
from sim.analysis.assure.replay import outcome_of
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import Outcome, Subject
from sim.analysis.assure.verdict import Verdict

GAP_MOST: Final = 40
ROUNDS: Final = 18
"""Items a target that come with gaps."""


def overheating(subject: Subject, request: Request) -> Iterator[Verdict]:
    """Every load of k*N and every gap of 1..40 ticks."""
    n = subject.per_round
    multiples = range(n, subject.room + 1, n)
    items = min(ROUNDS * n, subject.room)
    runs = f"one load of k*{n} items, k = 1..{len(multiples)}; {items} items with gaps of 1..{GAP_MOST} ticks"
    scope = subject.scope(runs)
    done = 0
    for count, outcome in outcomes_of(subject, request, multiples):
        done += 1
        if outcome.overheated:
            arrivals = [(0, k, count) for k in range(len(subject.streams))]
            yield _refuted(subject, outcome, arrivals, f"a load of {count} items", scope, done)
            return
    for gap in range(1, GAP_MOST + 1):
        if request.is_over():
            text = f"none in {done} runs; then time was up"
            yield Verdict("overheating", "open", scope, text, done, subject.handover)
            return
        arrivals = [(i * gap, k, 1) for i in range(items) for k in range(len(subject.streams))]
        outcome = outcome_of(subject, arrivals)
        done += 1
        if outcome.overheated:
            yield _refuted(subject, outcome, arrivals, f"{items} items, one every {gap} ticks", scope, done)
            return
    yield Verdict("overheating", "proved", scope, "no inverter overheats", done, subject.handover)


def _refuted(
    subject: Subject, outcome: Outcome, arrivals: list[tuple[int, int, int]], what: str, scope: str, done: int
) -> Verdict:
    text = f"an inverter overheats under {what}; slow down what drives it (trial tells which one)"
    told = replace(outcome, rested=True)  # whether it rests is not the question
    return subject.failed("overheating", scope, text, done, told, arrivals)
