"""Plots of layouts by two of their measures: numbered markers, and the front as a staircase.

Markers are told apart by shape as well as by colour: on the front a filled circle, off it a hollow square, not compared
a cross. Measures on the axes are better the smaller they are: what is good lies to the left and below.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from xml.etree.ElementTree import Element

from splitwright.drawing.axes import nice_step, shortened
from splitwright.drawing.svg import el
from splitwright.words import Words

MARKERS: Final[Mapping[str, str]] = {
    "front": "M-6 0A6 6 0 1 1 6 0A6 6 0 1 1 -6 0Z",
    "beaten": "M-5-5H5V5H-5Z",
    "apart": "M-5-5L5 5M-5 5L5-5",
}
LEFT, RIGHT, TOP, BOTTOM = 60.0, 24.0, 40.0, 56.0
WIDTH, HEIGHT = 290.0, 230.0
"""Of the plot within its margins."""
MARKS: Final = 5
LABEL_SIZE: Final = 13.0
_PLACES: Final = ((9.0, -7.0), (9.0, 16.0), (-9.0, -7.0), (-9.0, 16.0), (0.0, -12.0), (0.0, 22.0))
"""Where a label may stand, from its marker; the first that is free is taken."""


@dataclass(frozen=True, slots=True)
class Spot:
    """One layout in a plot. ``standing``: "front", "beaten" or "apart"."""

    number: int
    x: int
    y: int
    standing: str


@dataclass(frozen=True, slots=True)
class Axis:
    """Values ``low`` to ``high`` over ``length`` units, marked every ``step``."""

    low: int
    high: int
    step: int
    length: float

    @classmethod
    def of(cls, values: Sequence[int], length: float) -> Axis:
        """Round ends with all ``values`` well within; it need not begin at 0."""
        step = nice_step(max(values) - min(values), MARKS)
        low = max(0, math.floor(min(values) / step - 0.25) * step)
        return cls(low, math.ceil(max(values) / step + 0.25) * step, step, length)

    @property
    def marks(self) -> list[int]:
        """The values that are written out."""
        return list(range(self.low, self.high + 1, self.step))

    def at(self, value: float) -> float:
        """How far from the axis' beginning a value stands."""
        return (value - self.low) * self.length / (self.high - self.low)


@dataclass(frozen=True, slots=True)
class _Plane:
    """The plot's two axes."""

    x: Axis
    y: Axis

    def at(self, x: float, y: float) -> tuple[float, float]:
        return LEFT + self.x.at(x), TOP + HEIGHT - self.y.at(y)


def scatter(
    spots: Sequence[Spot], stairs: Sequence[tuple[float, float]], names: tuple[str, str], words: Words
) -> Element:
    """The plot of ``spots`` (at least one); ``stairs``: the front in this plane, from left to right; ``names``: of the
    two measures. A marker is a ``<path class="spot is-front" data-number>``; layouts that stand in one place have one
    label. O(n^2) in the spots."""
    plane = _Plane(Axis.of([spot.x for spot in spots], WIDTH), Axis.of([spot.y for spot in spots], HEIGHT))
    return el(
        "svg",
        el("title", words.text("compare.plot", x=names[0], y=names[1])),
        el("desc", words.text("compare.plot_text", x=names[0], y=names[1], layouts=len(spots))),
        *_axes(plane, names, words),
        *_staircase(plane, stairs),
        *(_marker(plane, spot) for spot in sorted(spots, key=lambda one: (one.standing == "front", -one.number))),
        *_labels(plane, spots, words),
        class_="scatter", role="img", viewBox=f"0 0 {LEFT + WIDTH + RIGHT:g} {TOP + HEIGHT + BOTTOM:g}",
        width=LEFT + WIDTH + RIGHT, height=TOP + HEIGHT + BOTTOM,
    )  # fmt: skip


def standing_sign(standing: str) -> Element:
    """The marker of a standing, for the text beside a plot (which says the same)."""
    return el(
        "svg", el("path", class_=f"spot is-{standing}", d=MARKERS[standing]),
        class_="scatter sign", viewBox="-9 -9 18 18", width=18, height=18, aria_hidden="true",
    )  # fmt: skip


def _axes(plane: _Plane, names: tuple[str, str], words: Words) -> Iterator[Element]:
    bottom, right = TOP + HEIGHT, LEFT + WIDTH
    across = [(mark, LEFT + plane.x.at(mark)) for mark in plane.x.marks]
    up = [(mark, bottom - plane.y.at(mark)) for mark in plane.y.marks]
    lines = "".join(f"M{x:.6g} {TOP:.6g}V{bottom:.6g}" for _, x in across)
    lines += "".join(f"M{LEFT:.6g} {y:.6g}H{right:.6g}" for _, y in up)
    yield el("path", class_="rules", d=lines)
    yield el("path", class_="axis", d=f"M{LEFT:.6g} {TOP:.6g}V{bottom:.6g}H{right:.6g}")
    yield el("g", *(el("text", words.number(n), x=x, y=bottom + 18) for n, x in across), class_="marks-x")
    yield el("g", *(el("text", words.number(n), x=LEFT - 8, y=y + 4.5) for n, y in up), class_="marks-y")
    x_name, y_name = (shortened(name, WIDTH + LEFT, LABEL_SIZE) for name in names)
    yield el("text", x_name, class_="name", x=right, y=bottom + 42, text_anchor="end")
    yield el("text", y_name, class_="name", x=4, y=TOP - 18)


def _staircase(plane: _Plane, stairs: Sequence[tuple[float, float]]) -> Iterator[Element]:
    """Right and above of the line, a layout is beaten by one on it (in these two measures)."""
    if stairs:
        places = [plane.at(*stair) for stair in stairs]
        path = f"M{places[0][0]:.6g} {TOP:.6g}" + "".join(f"H{x:.6g}V{y:.6g}" for x, y in places)
        yield el("path", class_="stairs", d=f"{path}H{LEFT + WIDTH:.6g}")


def _marker(plane: _Plane, spot: Spot) -> Element:
    x, y = plane.at(spot.x, spot.y)
    return el("path", class_=f"spot is-{spot.standing}", d=MARKERS[spot.standing], data_number=spot.number,
              transform=f"translate({x:.6g} {y:.6g})")  # fmt: skip


def _labels(plane: _Plane, spots: Sequence[Spot], words: Words) -> Iterator[Element]:
    places: dict[tuple[int, int], list[int]] = {}
    for spot in spots:
        places.setdefault((spot.x, spot.y), []).append(spot.number)
    taken = [(x - 7, y - 7, x + 7, y + 7) for x, y in (plane.at(*place) for place in places)]
    for place, numbers in places.items():
        text = shortened(", ".join(words.number(number) for number in numbers), WIDTH / 3, LABEL_SIZE)
        x, y, anchor, box = _free(*plane.at(*place), len(text) * 8.0, taken)
        taken.append(box)
        yield el("text", text, class_="number", x=x, y=y, text_anchor=anchor)


_Box = tuple[float, float, float, float]


def _free(x: float, y: float, width: float, taken: Sequence[_Box]) -> tuple[float, float, str, _Box]:
    """Where a label of that width meets the fewest of what is there: its place, its anchor, the box that it fills."""
    tried: list[tuple[int, int, float, float, str, _Box]] = []
    for right, down in _PLACES:
        left = x + right - (0 if right > 0 else width if right < 0 else width / 2)
        box = (left, y + down - 11, left + width, y + down + 2)
        outside = left < LEFT or left + width > LEFT + WIDTH + RIGHT or box[1] < TOP - 12 or box[3] > TOP + HEIGHT
        met = sum(_meet(box, other) for other in taken) + (10 if outside else 0)
        anchor = "start" if right > 0 else "end" if right < 0 else "middle"
        tried.append((met, len(tried), x + right, y + down, anchor, box))
    _, _, at_x, at_y, anchor, box = min(tried)
    return at_x, at_y, anchor, box


def _meet(one: _Box, other: _Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
