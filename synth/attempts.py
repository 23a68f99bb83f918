"""Where to look for a first layout: the boxes and questions that answer fast, the most promising first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from sim.geometry import Direction
from synth.model.question import DelayWindow, Question
from synth.plots import Size, is_open, plots, question_for, rows_of, sizes
from synth.spec import Spec

LONG_ROW: Final = 5
"""Outputs from which straight rows with repeating columns are tried before free ones."""
PLACES_TRIED: Final = 3
"""Places of one shape that are tried, on sites where places differ."""
ROOM_PER_COLUMN: Final = 12
"""Cells a column of the row that make a box roomy enough for a quick answer."""

MARGINS: Final = (1, 2, 3)
"""Columns left free at each end of a row with repeating columns."""

Attempt = tuple[Size, Question]


def attempts_at_a_first(spec: Spec, window: DelayWindow) -> list[list[Attempt]]:
    """Groups of attempts, each to be joined to those before it when they have had their turn.

    Long rows: straight with repeating columns, then straight; then, as for short ones, everything free.
    """
    roomy = _roomy_sizes(spec)
    free = [
        (size, question_for(spec, plot, window)) for size in roomy for plot in plots(spec, size)[:PLACES_TRIED]
    ]
    straight = list(_straight(spec, window, roomy))
    plain = [(size, question) for size, question, _ in straight]
    if spec.outputs < LONG_ROW:
        return [free] if is_open(spec) else [plain + free]
    repeating = [
        (size, replace(question, repeat=repeat))
        for size, question, row in straight
        for repeat in _repeating_columns(question, row)
    ]
    return [group for group in (repeating, plain + free) if group]


def _straight(spec: Spec, window: DelayWindow, roomy: Sequence[Size]) -> Iterator[tuple[Size, Question, Direction]]:
    for size in roomy:
        for plot in plots(spec, size)[:PLACES_TRIED]:
            for row in rows_of(plot, spec.outputs):
                yield size, question_for(spec, plot, window, straight=row), row


def _roomy_sizes(spec: Spec) -> list[Size]:
    """The smallest shapes with about the room that a row of N needs, those it just fits first; the whole site."""
    length = spec.outputs + 1
    every = sizes(spec, lambda size: size[0] * size[1] * size[2])
    enough = [s for s in every if s[0] * s[1] * s[2] >= length * ROOM_PER_COLUMN and max(s[:2]) <= length + 2]
    fitting = [s for s in enough if max(s[:2]) == length]
    return list(dict.fromkeys([*fitting[:2], *enough[:1], *every[-1:]]))


def _repeating_columns(question: Question, row: Direction) -> Iterator[tuple[int, int]]:
    """All columns along the row but some at each end, as long as at least two are left."""
    last = question.grid.size[0 if row == "E" else 1] - 1
    return ((margin, last - margin) for margin in MARGINS if last - margin > margin)
