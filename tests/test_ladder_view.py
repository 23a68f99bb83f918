"""Words for how far each measure has come: of which layouts a bound was shown, and no more."""

from __future__ import annotations

import pytest

from splitwright.proposing.ladder_view import best_line, step_lines
from splitwright.proposing.searching import progress_line
from synth.search.exact.ladder import Ladder, Rung
from synth.search.result import Step


def test_a_later_measure_is_told_of_layouts_that_are_best_in_those_before_it() -> None:
    steps = [Step("volume", 32, 32, True), Step("parts", 18, 18, True), Step("latency", 26, 26, True)]
    assert list(step_lines(steps)) == [
        "volume 32: proved, no layout has less",
        "parts 18: proved, no layout of that volume has fewer",
        "latency 26: proved, no layout of that volume and number of parts has less",
    ]


def test_the_first_measure_has_no_condition() -> None:
    assert list(step_lines([Step("parts", 18, 18, True)])) == ["parts 18: proved, no layout has fewer"]
    assert list(step_lines([Step("throughput", 450.5, 450.5, True)])) == [
        "throughput 450.5: proved, no layout has more"
    ]


def test_three_measures_before_it() -> None:
    steps = [Step(name, 4, 4, True) for name in ("height", "footprint", "price", "throughput")]
    assert list(step_lines(steps))[-1] == (
        "throughput 4: proved, no layout of that height, footprint and price has more"
    )


def test_an_open_measure_with_a_bound_and_without() -> None:
    """After a measure that is open, a bound is one for all that are no worse in it than the best found."""
    steps = [Step("volume", 40, 36, False), Step("parts", 30, 28, False), Step("latency", 39, None, False)]
    assert list(step_lines(steps)) == [
        "volume 40: open, no layout has less than 36",
        "parts 30: open, no layout at least as good in volume has fewer than 28",
        "latency 39: open, no bound known",
    ]
    proved = [Step("volume", 40, 40, True), Step("price", 30, 28, False)]
    assert list(step_lines(proved))[1] == "price 30: open, no layout of that volume has less than 28"


@pytest.mark.parametrize(
    ("measure", "bound", "steps", "told"),
    [
        ("volume", 30, [], "volume: best 32, none below 30"),
        ("parts", 17, [Step("volume", 32, 32, True)], "parts: best 32, none of that volume below 17"),
        ("parts", 17, [Step("volume", 32, 28, False)], "parts: best 32, none at least as good in volume below 17"),
        ("volume", 32, [Step("volume", 32, 32, True)], "volume: best 32, none below 32"),
        ("latency", None, [Step("volume", 32, 32, True)], "latency: best 32"),
    ],
)
def test_the_measure_in_hand(measure: str, bound: float | None, steps: list[Step], told: str) -> None:
    assert best_line(Ladder(measure, 32, bound, [], steps)) == told


def test_nothing_found_yet() -> None:
    assert best_line(Ladder("volume", None, 24, [], [])) == "volume: best none yet, none below 24"


@pytest.mark.parametrize(
    ("best", "bound", "gap"),
    [
        (32, 24, ", gap 25%"),
        (32, 32, ", gap 0%"),
        (-8000, -9000, ", gap 12%"),
        (32, None, ""),
        (None, 24, ""),
    ],
)
def test_how_far_the_search_is_in_one_line(best: float | None, bound: float | None, gap: str) -> None:
    """(best - bound) / |best|, as solvers of mixed-integer programs tell it; and how many ways of the row are left in
    the boxes in hand."""
    rungs = [Rung((3, 2, 4), "searching", 12, 20, 1.0, None, ""), Rung((4, 2, 4), "waiting", 5, 5, 0.0, None, "")]
    ladder = Ladder("volume", best, bound, rungs, [])
    assert progress_line(ladder) == f"{best_line(ladder)}{gap}, ways of the row left: 17"
