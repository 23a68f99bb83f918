"""A sign for each part, as on an engineer's plan: seen from above, in a cell of 40 units about the origin.

The signs are our own. Each differs from the others in shape, so that a print without colours can be read:

- support: a hatched square; bin: a square within a square, a wedge in its corner where it is marked;
- node: a circle, with a solid head at the side of its outlet; for an outlet down a cross in the circle, the tail of an
  arrow that goes into the page (the convention of engineering drawing and of vector diagrams; from memory);
- furnace: a square with the arch of a kiln's mouth;
- line: a long stroke to each line that it links to, with a chevron that points the way up where the link climbs or
  descends (as arrows on stairs do in a plan), and a short thin stroke to each side that it points into besides;
- inverter: a small circle with a bar on its mount side, on a square plate where it is mounted down;
- relay: a pentagon whose point is its output, with as many ticks as its delay; gauge: a dial on a base bar that lies
  on the side it reads, its needle toward its output.

Coordinates are SVG's: x to the east, y to the south.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from xml.etree.ElementTree import Element

from sim.world.geometry import HORIZONTAL, Direction
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.signals.structure import Build, links_on, points_into
from splitwright.drawing.svg import el

CELL: Final = 40
"""Side of a cell, in units of a drawing."""
Point = tuple[float, float]

_HEAD: Final = ((10.0, -9.0), (20.0, 0.0), (10.0, 9.0))
_PENTAGON: Final = ((-16.0, -12.0), (5.0, -12.0), (17.0, 0.0), (5.0, 12.0), (-16.0, 12.0))
_NEEDLE_HEAD: Final = ((11.0, -5.0), (19.0, 0.0), (11.0, 5.0))
_CHEVRON: Final = ((11.0, -7.0), (17.0, 0.0), (11.0, 7.0))
"""Points outward; mirrored about x = 14 it points inward."""


def glyph(part: Part, build: Build) -> list[Element]:
    """The sign of ``part``, which stands in ``build`` (what a line links to decides how it is drawn)."""
    match part:
        case Support():
            return [_square(17), _stroke("hatch", _hatch(17, 17))]
        case Bin():
            return [_square(17), _square(11, "inner"), *_wedge(part)]
        case Furnace():
            return [_square(17), _stroke("mouth", "M-9 17V3A9 9 0 0 1 9 3V17Z")]
        case Node():
            return _node(part.outlet)
        case Line():
            return _line(part, build)
        case Inverter():
            return _inverter(part.mount)
        case Relay():
            ticks = "".join(_open(_turned([(x, -7), (x, 7)], part.output)) for x in (-11, -6, -1, 4)[: part.delay])
            return [_shape("body", _turned(_PENTAGON, part.output)), _stroke("ticks", ticks)]
        case Gauge():
            return _gauge(part.output)


def outline(part: Part) -> Element:
    """What a part in the layer below looks like: a square for what fills its cell, a circle for a node, else a small
    square with round corners. Dashed by its class."""
    if isinstance(part, Node):
        return el("circle", r=17.5)
    half, corner = (18.5, None) if isinstance(part, (Support, Bin, Furnace)) else (11.0, 6)
    return el("rect", x=-half, y=-half, width=2 * half, height=2 * half, rx=corner)


def taken_sign() -> list[Element]:
    """A cell that is taken already: filled from edge to edge, with its two diagonals."""
    return [el("rect", x=-20, y=-20, width=40, height=40, class_="taken"),
            _stroke("across", "M-20-20L20 20M-20 20L20-20")]  # fmt: skip


def fill_mark() -> Element:
    """A solid wedge that points down, in the strip above a sign: fill it before the first load."""
    return _stroke("fill-first", "M7-18H18L12.5-9Z")


def lock_mark() -> Element:
    """A bar across with two ticks: what is laid over a node that is locked."""
    return el("g", el("path", d="M-15 0H15M-9-7V7M9-7V7", class_="halo"), el("path", d="M-15 0H15M-9-7V7M9-7V7"),
              class_="lock")  # fmt: skip


def _square(half: float, class_: str = "body") -> Element:
    return el("path", class_=class_, d=f"M{-half:g}{-half:g}H{half:g}V{half:g}H{-half:g}Z")


def _stroke(class_: str, d: str) -> Element:
    return el("path", class_=class_, d=d)


def _shape(class_: str, points: Sequence[Point]) -> Element:
    return el("path", class_=class_, d=_open(points) + "Z")


def _hatch(half: float, gap: float) -> str:
    """Lines at 45 degrees across a square, ``gap`` apart along its sides."""
    strokes = []
    offset = gap - 2 * half
    while offset < 2 * half:  # the line y = x + offset... drawn rising to the right: y = -x + offset
        low, high = max(-half, offset - half), min(half, offset + half)
        strokes.append(_open([(low, offset - low), (high, offset - high)]))
        offset += gap
    return "".join(strokes)


def _wedge(part: Bin) -> list[Element]:
    return [_stroke("wedge", "M17 17H-2L17-2Z")] if part.finish == "marked" else []


def _node(outlet: Direction) -> list[Element]:
    circle = el("circle", class_="body", r=13)
    if outlet == "D":
        return [circle, _stroke("tail", "M-9.2-9.2L9.2 9.2M-9.2 9.2L9.2-9.2")]
    return [circle, _shape("tip", _turned(_HEAD, outlet))]


def _line(part: Line, build: Build) -> list[Element]:
    links, chevrons, points = "", "", ""
    pointed = points_into(build, part.at)
    for side in HORIZONTAL:
        linked = links_on(build, part.at, side)
        if linked:
            links += _open(_turned([(0, 0), (20, 0)], side))
        elif side in pointed:
            points += _open(_turned([(0, 0), (12, 0)], side))
        for cell in linked:
            if cell[2] != part.at[2]:
                chevrons += _open(_turned(_chevron(cell[2] > part.at[2]), side))
    strokes = (("points", points), ("link", links), ("step", chevrons))
    return [*(_stroke(class_, d) for class_, d in strokes if d), el("circle", class_="hub", r=4.5)]


def _chevron(is_up: bool) -> Sequence[Point]:
    return _CHEVRON if is_up else [(28 - x, y) for x, y in _CHEVRON]


def _inverter(mount: Direction) -> list[Element]:
    if mount == "D":
        return [_square(13, "plate"), el("circle", class_="body", r=8)]
    bar = _open(_turned([(18, -11), (18, 11)], mount))
    return [_stroke("stem", _open(_turned([(0, 0), (18, 0)], mount))), _stroke("bar", bar),
            el("circle", class_="body", r=8)]  # fmt: skip


def _gauge(output: Direction) -> list[Element]:
    top, bottom = _turned([(-10, -12), (-10, 12)], output)
    dial = f"M{_at(top)}A12 12 0 0 1 {_at(bottom)}Z"
    return [
        _stroke("body", dial),
        _stroke("bar", _open(_turned([(-16, -14), (-16, 14)], output))),
        _stroke("needle", _open(_turned([(-10, 0), (12, 0)], output))),
        _shape("tip", _turned(_NEEDLE_HEAD, output)),
    ]


def _turned(points: Sequence[Point], direction: Direction) -> list[Point]:
    """Points that are drawn for east, turned to another horizontal direction."""
    match direction:
        case "S":
            return [(-y, x) for x, y in points]
        case "W":
            return [(-x, -y) for x, y in points]
        case "N":
            return [(y, -x) for x, y in points]
        case _:
            return list(points)


def _open(points: Sequence[Point]) -> str:
    """Path data from point to point."""
    return "M" + "L".join(_at(point) for point in points)


def _at(point: Point) -> str:
    x, y = (f"{value + 0.0:g}" for value in point)
    return f"{x}{'' if y.startswith('-') else ' '}{y}"
