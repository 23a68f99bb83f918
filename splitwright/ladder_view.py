"""The ladder of boxes as a table: which are ruled out, which are searched, which wait."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import RenderableType

from splitwright.tables import plain_table
from synth.exact.ladder import Ladder, Rung
from synth.result import Step


def ladder_table(ladder: Ladder, most: int) -> Iterator[RenderableType]:
    """The measure in hand with its bound, and at most so many boxes around those that are being searched."""
    for step in ladder.steps:
        yield step_line(step)
    if ladder.measure:
        best = "none yet" if ladder.best is None else f"{abs(ladder.best):g}"
        bound = "" if ladder.bound is None else f", none below {ladder.bound:g}"
        yield f"{ladder.measure}: best {best}{bound}"
    numbers = ("cells", "rows left", "seconds")
    table = plain_table("box", "cells", "parts", "verdict", "rows left", "seconds", right=numbers)
    for rung in _window(ladder.rungs, most):
        w, d, h = rung.box
        parts = "any" if rung.parts is None else f"at most {rung.parts}"
        table.add_row(
            f"{w} x {d} x {h}", str(w * d * h), parts, rung.state, f"{rung.left} of {rung.cubes}" if rung.cubes else "",
            f"{rung.seconds:.1f}" if rung.cubes else "",
        )
    yield table


def step_line(step: Step) -> str:
    """How far one measure has come, in words."""
    if step.measure == "throughput":
        known = "proved, no layout has more" if step.proved else "open, no bound known"
    elif step.proved:
        known = "proved, no layout has less"
    else:
        known = "open" + ("" if step.bound is None else f", no layout has less than {step.bound:g}")
    return f"{step.measure} {step.value:g}: {known}"


def _window(rungs: Sequence[Rung], most: int) -> Sequence[Rung]:
    """The rungs around the first that is being searched."""
    first = next((i for i, rung in enumerate(rungs) if rung.state == "searching"), 0)
    start = max(0, min(first - most // 2, len(rungs) - most))
    return rungs[start : start + most]
