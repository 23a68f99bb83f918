"""The mirror images and rotations of a layout: one of each set stands for all (rulebook: the laws do not tell them
apart)."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Final

from sim.world.geometry import VECTORS, Cell, Direction
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Node, Part, Relay

Turn = Callable[[int, int], tuple[int, int]]
TURNS: Final[tuple[Turn, ...]] = (
    lambda x, y: (x, y),
    lambda x, y: (-y, x),
    lambda x, y: (-x, -y),
    lambda x, y: (y, -x),
    lambda x, y: (-x, y),
    lambda x, y: (x, -y),
    lambda x, y: (y, x),
    lambda x, y: (-y, -x),
)
"""The eight symmetries of the square about the vertical axis."""


def images(layout: Layout) -> Iterator[Layout]:
    """The eight images of a layout, each moved so that its parts start at the origin."""
    for turn in TURNS:
        yield turned(layout, turn)


def turned(layout: Layout, turn: Turn) -> Layout:
    """The layout turned, moved to the origin, its size the box around its parts."""
    cells = [turned_cell(part.at, turn) for part in layout.parts]
    low = tuple(min(c[axis] for c in cells) for axis in range(3))
    high = tuple(max(c[axis] for c in cells) for axis in range(3))

    def move(cell: Cell) -> Cell:
        x, y, z = turned_cell(cell, turn)
        return x - low[0], y - low[1], z - low[2]

    return replace(
        layout,
        size=(high[0] - low[0] + 1, high[1] - low[1] + 1, high[2] - low[2] + 1),
        parts=tuple(turned_part(part, turn, move) for part in layout.parts),
        streams=tuple(replace(s, source=move(s.source), outputs=tuple(map(move, s.outputs))) for s in layout.streams),
    )


def moved(layout: Layout, by: Cell, size: tuple[int, int, int]) -> Layout:
    """The layout moved within a site of that size; nothing but its place changes."""
    dx, dy, dz = by

    def move(cell: Cell) -> Cell:
        return cell[0] + dx, cell[1] + dy, cell[2] + dz

    return replace(
        layout,
        size=size,
        parts=tuple(replace(part, at=move(part.at)) for part in layout.parts),
        streams=tuple(replace(s, source=move(s.source), outputs=tuple(map(move, s.outputs))) for s in layout.streams),
    )


def boxed(layout: Layout) -> Layout:
    """The layout moved to the origin, its size that of the box around its parts."""
    low, high = (tuple(side(part.at[axis] for part in layout.parts) for axis in range(3)) for side in (min, max))
    w, d, h = (high[axis] - low[axis] + 1 for axis in range(3))
    return moved(layout, (-low[0], -low[1], -low[2]), (w, d, h))


def canonical_key(layout: Layout) -> tuple[object, ...]:
    """The same for all images of a layout, different for layouts that are no images of each other."""
    return min(tuple(sorted(map(_key, image.parts))) for image in images(layout))


def _key(part: Part) -> tuple[object, ...]:
    return (*part.at, part.kind, *(str(getattr(part, n, "")) for n in ("outlet", "mount", "output", "delay", "finish")))


def mirrored(x: int, y: int) -> tuple[int, int]:
    """The turn that exchanges width and depth."""
    return y, x


def turned_cell(cell: Cell, turn: Turn) -> Cell:
    """The cell turned about the vertical axis."""
    x, y = turn(cell[0], cell[1])
    return x, y, cell[2]


def turned_direction(direction: Direction, turn: Turn) -> Direction:
    """The direction turned about the vertical axis."""
    vector = turned_cell(VECTORS[direction], turn)
    return next(d for d, other in VECTORS.items() if other == vector)


def turned_part(part: Part, turn: Turn, move: Callable[[Cell], Cell]) -> Part:
    """The part turned; ``move`` tells where its cell comes to lie."""
    at = move(part.at)
    match part:
        case Node():
            return replace(part, at=at, outlet=turned_direction(part.outlet, turn))
        case Inverter():
            return replace(part, at=at, mount=turned_direction(part.mount, turn))
        case Relay() | Gauge():
            return replace(part, at=at, output=turned_direction(part.output, turn))
        case _:
            return replace(part, at=at)
