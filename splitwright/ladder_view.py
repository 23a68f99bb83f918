"""The ladder of boxes as a table: which are ruled out, which are searched, which wait."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from rich.console import RenderableType

from splitwright.tables import plain_table
from synth.exact.ladder import Ladder, Rung
from synth.result import Step

_BETTER: Final = {"parts": "fewer", "throughput": "more"}
"""What a layout has that is better by the measure, where it is not less."""


def ladder_table(ladder: Ladder, most: int) -> Iterator[RenderableType]:
    """The measure in hand with its bound, and at most so many boxes around those that are being searched."""
    yield from step_lines(ladder.steps)
    if ladder.measure:
        yield best_line(ladder)
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


def best_line(ladder: Ladder) -> str:
    """How far the measure in hand has come."""
    best = "none yet" if ladder.best is None else f"{abs(ladder.best):g}"
    among = _among([step for step in ladder.steps if step.measure != ladder.measure])
    bound = "" if ladder.bound is None else f", none{among} below {ladder.bound:g}"
    return f"{ladder.measure}: best {best}{bound}"


def step_lines(steps: Sequence[Step]) -> Iterator[str]:
    """How far each measure has come, in words: what is shown of a later one is shown of layouts as good in those
    before it."""
    for i, step in enumerate(steps):
        none = f"no layout{_among(steps[:i])} has {_BETTER.get(step.measure, 'less')}"
        if step.proved:
            known = f"proved, {none}"
        else:
            known = "open, no bound known" if step.bound is None else f"open, {none} than {step.bound:g}"
        yield f"{step.measure} {step.value:g}: {known}"


def better_by(measure: str) -> str:
    """What a layout is that is better by the measure."""
    return {"parts": "with fewer parts", "throughput": "of more throughput"}.get(measure, f"of less {measure}")


def _among(before: Sequence[Step]) -> str:
    """Of which layouts a bound holds, after these measures."""
    if not before:
        return ""
    if all(step.proved for step in before):
        return f" of that {_listed(['number of parts' if one.measure == 'parts' else one.measure for one in before])}"
    return f" at least as good in {_listed([one.measure for one in before])}"


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _window(rungs: Sequence[Rung], most: int) -> Sequence[Rung]:
    """The rungs around the first that is being searched."""
    first = next((i for i, rung in enumerate(rungs) if rung.state == "searching"), 0)
    start = max(0, min(first - most // 2, len(rungs) - most))
    return rungs[start : start + most]
