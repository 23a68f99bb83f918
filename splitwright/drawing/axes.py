"""Axes with round numbers, and step traces over time, as wave view and chart share them.

Traces are drawn in units of their own, ticks across and levels or counts up; a group's transform brings them to size.
So their numbers are whole and short, whatever the scale, and can be read back.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final
from xml.etree.ElementTree import Element

from sim.world.recording import Steps
from splitwright.drawing.svg import el
from splitwright.words import Words

CHANGES_MOST: Final = 1000
"""Changes of one trace that are drawn each by itself."""
COLUMNS: Final = 500
"""Columns that a trace with more changes is drawn in."""


def nice_number(number: float, *, rounded: bool) -> float:
    """1, 2, 5 or 10 times a power of ten: near ``number`` (above 0), or, not ``rounded``, the least one not below it.

    P. S. Heckbert, "Nice numbers for graph labels", Graphics Gems (1990), p. 61.
    """
    power = 10.0 ** math.floor(math.log10(number))
    fraction = number / power
    limits = ((1.5, 1), (3, 2), (7, 5)) if rounded else ((1.0, 1), (2.0, 2), (5.0, 5))
    for limit, nice in limits:
        if fraction < limit or (not rounded and fraction <= limit):
            return nice * power
    return 10 * power


def nice_step(length: float, count: int) -> int:
    """Distance of marks on an axis of whole numbers from 0 to ``length``, for about ``count`` of them (2 or more)."""
    if length <= 0:
        return 1
    return max(1, round(nice_number(nice_number(length, rounded=False) / (count - 1), rounded=True)))


def nice_marks(length: float, count: int) -> list[int]:
    """Whole numbers from 0 up to ``length``, a nice step apart: about ``count``, at most half as many more."""
    return list(range(0, math.floor(length) + 1, nice_step(length, count)))


@dataclass(frozen=True, slots=True)
class TimeScale:
    """Ticks 0 to ``until`` over ``width`` units from ``left``."""

    until: int
    left: float
    width: float

    @property
    def unit(self) -> float:
        """Units a tick."""
        return self.width / max(1, self.until)

    def at(self, tick: float) -> float:
        """Where a tick is."""
        return self.left + tick * self.unit

    def turned(self, base: float, rise: float) -> str:
        """The transform for what is drawn in ticks across and steps of ``rise`` units up from ``base``."""
        return f"translate({self.left:.6g} {base:.6g})scale({self.unit:.6g} {-rise:.6g})"

    def attributes(self) -> dict[str, str | int | float]:
        """What a script needs to set the cursor, and to read a tick off a place."""
        return {"data_left": f"{self.left:.6g}", "data_unit": f"{self.unit:.6g}", "data_until": self.until}


def time_axis(scale: TimeScale, top: float, words: Words, ticks_per_second: int) -> Element:
    """The axis below a picture: ticks, and seconds below them."""
    marks = nice_marks(scale.until, max(3, min(12, int(scale.width // 80))))
    digits = _digits([mark / ticks_per_second for mark in marks])
    strokes = "".join(f"M{scale.at(mark):.6g} {top:.6g}v5" for mark in marks)
    return el(
        "g",
        el("path", class_="axis", d=f"M{scale.left:.6g} {top:.6g}H{scale.at(scale.until):.6g}{strokes}"),
        *(el("text", words.number(mark), x=scale.at(mark), y=top + 18) for mark in marks),
        *(
            el("text", words.number(mark / ticks_per_second, digits), x=scale.at(mark), y=top + 34, class_="seconds")
            for mark in marks
        ),
        el("text", words.text("replay.ticks"), x=scale.left - 18, y=top + 18, class_="unit"),
        el("text", words.text("replay.seconds"), x=scale.left - 18, y=top + 34, class_="unit"),
        class_="time-axis",
    )


def cursor(scale: TimeScale, top: float, bottom: float) -> Element:
    """The line that a script moves to the present tick; it stands at tick 0."""
    return el("line", class_="cursor", x1=scale.left, x2=scale.left, y1=top, y2=bottom)


def step_path(steps: Steps, until: int) -> str:
    """A step function as path data in ticks and values, up to ``until``: level strokes and upright ones.

    A trace with more than CHANGES_MOST changes is drawn in COLUMNS columns, an upright stroke in each from the least
    to the largest value in it; the size is bounded so.
    """
    within = [entry for entry in steps if entry[0] <= until]
    strokes = _each(within) if len(within) <= CHANGES_MOST else _in_columns(within, until)
    return f"M0 {within[0][1]}" + "".join(strokes) + f"H{until}"


def _each(steps: list[tuple[int, int]]) -> Iterator[str]:
    for tick, value in steps[1:]:
        yield f"H{tick}V{value}"


def _in_columns(steps: list[tuple[int, int]], until: int) -> Iterator[str]:
    size = -(-until // COLUMNS)
    columns: dict[int, list[int]] = {}
    for tick, value in steps[1:]:
        columns.setdefault(tick // size, []).append(value)
    for column, values in columns.items():
        yield f"H{column * size}V{min(values)}V{max(values)}V{values[-1]}"


def _digits(numbers: list[float]) -> int:
    """The least number of decimals (up to 3) with which every number is exact."""
    return next((n for n in range(3) if all(math.isclose(x, round(x, n), abs_tol=1e-9) for x in numbers)), 3)


def text_width(text: str, size: float) -> float:
    """A generous estimate of how wide a text is, in units: 0.6 of its size a letter, all of it for wide scripts."""
    return sum(size if ord(sign) > 0x2E7F else size * 0.6 for sign in text)


def shortened(text: str, width: float, size: float) -> str:
    """The text, or as much of it as has room, with an ellipsis."""
    if text_width(text, size) <= width:
        return text
    while text and text_width(text + "…", size) > width:
        text = text[:-1]
    return text.rstrip() + "…"
