"""The loop of every search: solve, judge the solution, cut out what was refused; until one is accepted, or none left.

Whoever asks says how a slice is solved, and what a solution comes to; so it is one loop for all solvers (CaDiCaL,
CP-SAT) and for all questions (boxes, pieces, improvements).
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from typing import TypeVar

from synth.solving.budget import Budget, Outcome

Found = TypeVar("Found")
Settling = Generator[None, None, tuple[Outcome, Found | None]]


def settling(
    solve: Callable[[], bool | None],
    judged: Callable[[], Found | None],
    budget: Budget,
    slice_of: int,
    refusal: int = 0,
) -> Settling[Found]:
    """Yields after each slice; returns "found" with what was accepted, "none exists" with a proof that nothing is left
    but what ``judged`` has cut out, or "stopped" by the budget.

    ``solve``: one slice of ``slice_of`` conflicts (True: a solution; False: proved that there is none; None: go on);
    ``judged``: what the solution is accepted as; None: refused, and cut out. ``refusal``: what a refused one counts for
    in the budget of conflicts.
    """
    while not budget.is_over:
        outcome = solve()
        if outcome is False:
            return "none exists", None
        if outcome:
            found = judged()
            if found is not None:
                return "found", found
            budget.spend(conflicts=refusal, refusals=1)
        else:
            budget.spend(conflicts=slice_of)
        yield
    return "stopped", None


def settled(search: Settling[Found]) -> tuple[Outcome, Found | None]:
    """What the loop comes to, for whoever need not look up in between."""
    while True:
        try:
            next(search)
        except StopIteration as end:
            outcome: tuple[Outcome, Found | None] = end.value
            return outcome
