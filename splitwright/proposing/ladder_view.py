"""How far each measure of the ranking has come, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from synth.search.exact.ladder import Ladder
from synth.search.result import Step

_BETTER: Final = {"parts": "fewer", "throughput": "more"}
"""What a layout has that is better by the measure, where it is not less."""


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
