"""The loop of every search, its budget, and work that must not outlast a moment, each with made-up work."""

from __future__ import annotations

import threading
from collections.abc import Callable
from time import monotonic

import pytest

from synth.solving.budget import Budget
from synth.solving.deadline import Aside
from synth.solving.settling import settled, settling

FAR_S = 1e6


def in_turn(*outcomes: bool | None) -> Callable[[], bool | None]:
    """A solver that says these, one after the other."""
    said = iter(outcomes)
    return lambda: next(said)


def test_the_first_that_is_accepted_is_found_refused_ones_are_cut_out() -> None:
    judged = iter([None, None, "third"])
    search = settling(in_turn(None, True, True, None, True), lambda: next(judged), Budget(FAR_S), 10)
    assert settled(search) == ("found", "third")


def test_nothing_left_is_a_proof() -> None:
    assert settled(settling(in_turn(None, True, False), lambda: None, Budget(FAR_S), 10)) == ("none exists", None)


@pytest.mark.parametrize(
    ("budget", "slices"),
    [(Budget(0.0), 0), (Budget(FAR_S, conflicts=25), 3), (Budget(FAR_S, conflicts=10), 1)],
    ids=["no time", "25 conflicts", "10 conflicts"],
)
def test_a_budget_that_runs_out_is_no_proof(budget: Budget, slices: int) -> None:
    solved: list[None] = []
    search = settling(lambda: solved.append(None), lambda: None, budget, 10)  # type: ignore[func-returns-value]
    assert settled(search) == ("stopped", None)
    assert len(solved) == slices


def test_refused_candidates_are_counted() -> None:
    refused: list[None] = []
    search = settling(lambda: True, lambda: refused.append(None), Budget(FAR_S, refusals=3), 10)  # type: ignore[func-returns-value]
    assert settled(search) == ("stopped", None)
    assert len(refused) == 3
    search = settling(lambda: True, lambda: refused.append(None), Budget(FAR_S, conflicts=10), 10, refusal=5)  # type: ignore[func-returns-value]
    assert settled(search) == ("stopped", None)
    assert len(refused) == 5, "two more, at five conflicts each"


def test_a_stop_from_outside_ends_it() -> None:
    stop = threading.Event()

    def solve() -> None:
        stop.set()

    assert settled(settling(solve, lambda: None, Budget(FAR_S, stop), 10)) == ("stopped", None)  # type: ignore[func-returns-value]


def test_work_aside_is_not_waited_for_beyond_its_moment() -> None:
    forever, began = threading.Event(), monotonic()
    slow = Aside(forever.wait)
    assert not slow.wait(began)
    assert not slow.done
    stop = threading.Event()
    stop.set()
    assert not slow.wait(began + FAR_S, stop)
    forever.set()
    assert slow.wait(monotonic() + FAR_S)
    assert slow.outcome is True


def test_what_work_aside_raises_is_raised() -> None:
    def broken() -> None:
        raise ValueError("broken")

    aside = Aside(broken)
    assert aside.wait(monotonic() + FAR_S)
    with pytest.raises(ValueError, match="broken"):
        _ = aside.outcome
