"""The shape of each part as a block in its cell, with marks on it: what the views from the side draw.

A cell is the unit cube about (0, 0) from z = 0 to 1, x to the east, y to the north. Marks are told apart by a class:
``m`` a fine stroke, ``f`` a solid patch, ``w`` a run of a line, ``v`` a stroke toward what a line points into.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from sim.world.geometry import HORIZONTAL, Direction
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.signals.structure import Build, links_on, points_into

Point = tuple[float, float]
MarkClass = Literal["m", "f", "w", "v"]
FLAT: Final = 0.125
"""Height of a line, a relay or a gauge."""

_ARROW: Final = ((-0.3, -0.07), (0.05, -0.07), (0.05, -0.24), (0.38, 0.0), (0.05, 0.24), (0.05, 0.07), (-0.3, 0.07))
_OCTAGON: Final = ((0.3, 0.12), (0.12, 0.3), (-0.12, 0.3), (-0.3, 0.12), (-0.3, -0.12), (-0.12, -0.3), (0.12, -0.3),
                   (0.3, -0.12))  # fmt: skip
_PENTAGON: Final = ((-0.4, -0.3), (0.1, -0.3), (0.42, 0.0), (0.1, 0.3), (-0.4, 0.3))
_ARCH: Final = ((-0.26, 0.0), (-0.26, 0.42), (-0.16, 0.58), (0.0, 0.64), (0.16, 0.58), (0.26, 0.42), (0.26, 0.0))


@dataclass(frozen=True, slots=True)
class Mark:
    """A stroke or a patch on a face, from point to point. ``closed``: back to the first one."""

    name: MarkClass
    points: tuple[Point, ...]
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Block:
    """A box within the cell: ``low`` and ``high`` corners. ``top``: marks on its top, in x and y; ``side``: marks on
    each of its sides, in (along the side, up), alike from left and right."""

    low: tuple[float, float, float]
    high: tuple[float, float, float]
    top: tuple[Mark, ...] = ()
    side: tuple[Mark, ...] = ()


def block_of(part: Part, build: Build) -> Block:
    """The block of a part that stands in ``build`` (a line's marks show what it links to)."""
    match part:
        case Support():
            return _box(0.5, 1.0, [_stroke((-0.5, t), (-t, 0.5)) for t in (-0.3, 0.1)]
                        + [_stroke((t, -0.5), (0.5, -t)) for t in (-0.1, 0.3)])  # fmt: skip
        case Bin():
            wedge = [Mark("f", ((0.5, -0.5), (-0.05, -0.5), (0.5, 0.05)), True)] if part.finish == "marked" else []
            return _box(0.5, 1.0, [Mark("m", _square(0.3), True), *wedge])
        case Furnace():
            return _box(0.5, 1.0, [], (Mark("f", _ARCH, True),))
        case Node():
            return _box(0.4, 0.8, _outlet(part.outlet))
        case Line():
            return _box(0.5, FLAT, _run(part, build))
        case Relay():
            ticks = [_toward(part.output, (x, -0.17), (x, 0.17)) for x in (-0.28, -0.16, -0.04, 0.08)[: part.delay]]
            return _box(0.47, FLAT, [Mark("m", _turned(_PENTAGON, part.output), True), *ticks])
        case Gauge():
            head = ((0.16, -0.17), (0.42, 0.0), (0.16, 0.17))
            return _box(0.47, FLAT, [
                Mark("f", _turned(((-0.42, -0.36), (-0.3, -0.36), (-0.3, 0.36), (-0.42, 0.36)), part.output), True),
                _toward(part.output, (-0.3, 0.0), (0.16, 0.0)), Mark("f", _turned(head, part.output), True),
            ])  # fmt: skip
        case Inverter():
            return _inverter(part.mount)


def _box(half: float, height: float, top: Sequence[Mark], side: tuple[Mark, ...] = ()) -> Block:
    return Block((-half, -half, 0.0), (half, half, height), tuple(top), side)


def _inverter(mount: Direction) -> Block:
    """A small block, against the side that it is mounted on."""
    if mount == "D":
        return _box(0.2, 0.5, [Mark("m", _square(0.1), True)])
    (x0, y0), (x1, y1) = _turned(((0.02, -0.2), (0.5, 0.2)), mount)
    bar = _turned(((0.4, -0.2), (0.5, -0.2), (0.5, 0.2), (0.4, 0.2)), mount)
    low, high = (min(x0, x1), min(y0, y1), 0.2), (max(x0, x1), max(y0, y1), 0.6)
    return Block(low, high, (Mark("f", bar, True),))


def _outlet(outlet: Direction) -> list[Mark]:
    if outlet == "D":
        cross = [_stroke((-0.21, -0.21), (0.21, 0.21)), _stroke((-0.21, 0.21), (0.21, -0.21))]
        return [Mark("m", _OCTAGON, True), *cross]
    return [Mark("f", _turned(_ARROW, outlet), True)]


def _run(line: Line, build: Build) -> list[Mark]:
    marks = []
    for side in HORIZONTAL:
        linked = links_on(build, line.at, side)
        if linked:
            marks.append(Mark("w", _turned(((0.0, 0.0), (0.5, 0.0)), side)))
        elif side in points_into(build, line.at):
            marks.append(Mark("v", _turned(((0.0, 0.0), (0.3, 0.0)), side)))
        for cell in linked:
            if cell[2] != line.at[2]:
                tip, tail = (0.44, 0.28) if cell[2] > line.at[2] else (0.28, 0.44)
                marks.append(Mark("m", _turned(((tail, -0.2), (tip, 0.0), (tail, 0.2)), side)))
    return marks


def _square(half: float) -> tuple[Point, ...]:
    return (-half, -half), (half, -half), (half, half), (-half, half)


def _stroke(*points: Point) -> Mark:
    return Mark("m", points)


def _toward(direction: Direction, *points: Point) -> Mark:
    return Mark("m", _turned(points, direction))


def _turned(points: Sequence[Point], direction: Direction) -> tuple[Point, ...]:
    """Points that are given for east, turned to another horizontal direction."""
    match direction:
        case "N":
            return tuple((-y, x) for x, y in points)
        case "W":
            return tuple((-x, -y) for x, y in points)
        case "S":
            return tuple((y, -x) for x, y in points)
        case _:
            return tuple(points)
