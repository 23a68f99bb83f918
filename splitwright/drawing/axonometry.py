"""Views of a layout from the side and above: parallel projection (dimetric, 2 : 1), seen from one of four corners.

Plain SVG of our own, no library for 3-D: it prints, it shows without any script, and its text stays text.

Painter's order. Blocks are drawn one over the other, from the ground up, and in a layer from the back to the front:
ascending by z, then descending by u + v, where u and v are a cell's distances from the viewer's corner along the two
sides of the site. No block hides one that is drawn after it: let a point p of block A hide a point q of block B, so
that p lies on the line of sight from q to the viewer. That line rises and comes nearer in u and in v, so
p.z >= q.z, p.u <= q.u and p.v <= q.v, and as each block lies within its own unit cell, the same holds for the cells
(rounding down keeps the order). As A and B are two cells, either A.z > B.z, or A.z = B.z and A.u + A.v < B.u + B.v:
A is drawn later. Within a block only three faces of a convex body are seen, and they do not overlap.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, Literal
from xml.etree.ElementTree import Element

from sim.world.geometry import Cell, Direction
from sim.world.layout import Layout
from sim.world.parts import Part
from splitwright.drawing.blocks import Block, Mark, block_of
from splitwright.drawing.svg import el
from splitwright.words import Words

Corner = Literal["SW", "SE", "NE", "NW"]
CORNERS: Final[tuple[Corner, ...]] = ("SW", "SE", "NE", "NW")
"""Each a quarter turn after the one before."""
SIDE, DEPTH, RISE = 16.0, 8.0, 19.6
"""A unit of u or v goes so far aside and so far up in the picture, a unit of z so far up (30 degrees of elevation)."""
MARGIN: Final = 34
ENLARGED: Final = 2
"""How many pixels a unit of the picture takes, where there is room."""
BANDS: Final = 24
"""Most groups of layers that can be hidden one by one."""
Point = tuple[float, float]
Solid = tuple[float, float, float]


def axonometry(layout: Layout, words: Words, corner: Corner = "SW", prefix: str = "view") -> Element:
    """The view from a corner. ``prefix``: how the picture's ids begin, so that no two in a page are alike.

    A layer is a ``<g class="layer band-B" data-layer="z">``; see ``band``.

    Each shape that occurs stands once in the picture's ``defs`` and is drawn by ``use``. O(p log p) for p parts.
    """
    view = _View(layout, corner, prefix)
    shapes: dict[tuple[str, Block], str] = {}
    layers = [view.layer(z, shapes) for z in range(layout.size[2])]
    u, v = view.sides
    left, right, top = v * SIDE + MARGIN, u * SIDE + MARGIN, view.top() + 4
    sides = _sides_of(corner)
    return el(
        "svg",
        el("title", words.text("drawing.view_title", corner=corner_name(corner, words))),
        el("desc", words.text("drawing.view_text", parts=len(layout.parts))),
        el("defs", *(view.shape(kind, block, name) for (kind, block), name in shapes.items())),
        view.ground(),
        *layers,
        *view.letters(words, sides),
        class_=f"drawing axonometry from-{corner}", role="img",
        viewBox=f"{-left:g} {-top:g} {left + right:g} {top + MARGIN:g}",
        width=round(ENLARGED * (left + right)), height=round(ENLARGED * (top + MARGIN)),
    )  # fmt: skip


def corner_name(corner: Corner, words: Words) -> str:
    """``south and west``."""
    first, second = (words.direction(side) for side in _sides_of(corner))
    return words.text("drawing.corner", first=first, second=second)


def band(layout: Layout, z: int) -> int:
    """Which group of layers a layer is in: its own, or one of 24 where a layout is higher than that."""
    return z // -(-layout.size[2] // BANDS)


def _sides_of(corner: Corner) -> tuple[Direction, Direction]:
    sides: dict[Corner, tuple[Direction, Direction]] = {
        "SW": ("S", "W"), "SE": ("S", "E"), "NE": ("N", "E"), "NW": ("N", "W"),
    }  # fmt: skip
    return sides[corner]


class _View:
    """A layout from one corner."""

    def __init__(self, layout: Layout, corner: Corner, prefix: str) -> None:
        self._layout = layout
        self._prefix = prefix + corner
        self._turns = CORNERS.index(corner)
        width, depth, _ = layout.size
        self.sides = (depth, width) if self._turns % 2 else (width, depth)

    def layer(self, z: int, shapes: dict[tuple[str, Block], str]) -> Element:
        """The parts of a layer, from the back to the front; what shapes they have is added to ``shapes``."""
        parts = sorted((part for part in self._layout.parts if part.at[2] == z), key=self._nearness)
        return el("g", *(self._use(part, shapes) for part in parts), class_=f"layer band-{band(self._layout, z)}",
                  data_layer=z)  # fmt: skip

    def shape(self, kind: str, block: Block, name: str) -> Element:
        """The drawing of a block about the middle of its cell's floor."""
        return el("g", *self._faces(block), id=name, class_=f"block k-{kind}")

    def ground(self) -> Element:
        """The site's rectangle on the ground and the lines between its cells."""
        u, v = self.sides
        frame = _path([_flat((x, y, 0.0)) for x, y in ((0, 0), (u, 0), (u, v), (0, v))], True)
        lines = [_path([_flat((x, 0.0, 0.0)), _flat((x, v, 0.0))]) for x in range(1, u)]
        lines += [_path([_flat((0.0, y, 0.0)), _flat((u, y, 0.0))]) for y in range(1, v)]
        return el("g", el("path", d=frame, class_="frame on-ground"), el("path", d="".join(lines)), class_="grid")

    def top(self) -> float:
        """How far up the picture goes: to the farthest corner of the ground or above the highest cell with a part."""
        cells = [self._cell(part.at) for part in self._layout.parts]
        return max([sum(self.sides) * DEPTH, *((u + v + 2) * DEPTH + (z + 1) * RISE for u, v, z in cells)])

    def letters(self, words: Words, sides: tuple[Direction, Direction]) -> Iterator[Element]:
        """The letters of the two sides that face the viewer, before those sides."""
        u, v = self.sides
        for side in sides:
            is_right = self._turned_side(side) == "S"
            x, y = _flat((u / 2, -0.9, 0.0) if is_right else (-0.9, v / 2, 0.0))
            yield el("text", words.letter(side), class_="letter", x=x, y=y + 5)

    def _nearness(self, part: Part) -> int:
        u, v, _ = self._cell(part.at)
        return -(u + v)

    def _use(self, part: Part, shapes: dict[tuple[str, Block], str]) -> Element:
        block = block_of(part, self._layout.by_cell)
        name = shapes.setdefault((part.kind, block), f"{self._prefix}{len(shapes)}")
        u, v, z = self._cell(part.at)
        x, y = _flat((u + 0.5, v + 0.5, float(z)))
        return el("use", href=f"#{name}", x=x, y=y)

    def _cell(self, cell: Cell) -> Cell:
        """A cell by its distances u and v from the viewer's corner, to the right and to the left."""
        (x, y, z), (width, depth, _) = cell, self._layout.size
        return ((x, y, z), (y, width - 1 - x, z), (width - 1 - x, depth - 1 - y, z), (depth - 1 - y, x, z))[self._turns]

    def _turned(self, x: float, y: float) -> Point:
        """x and y within a cell, as u and v."""
        return ((x, y), (y, -x), (-x, -y), (-y, x))[self._turns]

    def _turned_side(self, side: Direction) -> Direction:
        """Where a side of the site lies for the viewer, who takes his own corner for the one in the south-west."""
        ring: tuple[Direction, ...] = ("E", "S", "W", "N")
        return ring[(ring.index(side) + self._turns) % 4]

    def _faces(self, block: Block) -> Iterator[Element]:
        """Left, right and top face, each with its marks."""
        (u0, v0), (u1, v1) = self._turned(*block.low[:2]), self._turned(*block.high[:2])
        (u0, u1), (v0, v1), z0, z1 = sorted((u0, u1)), sorted((v0, v1)), block.low[2], block.high[2]
        left = [(u0, v0, z0), (u0, v1, z0), (u0, v1, z1), (u0, v0, z1)]
        right = [(u0, v0, z0), (u1, v0, z0), (u1, v0, z1), (u0, v0, z1)]
        top = [(u0, v0, z1), (u1, v0, z1), (u1, v1, z1), (u0, v1, z1)]
        for name, corners in (("l", left), ("r", right), ("t", top)):
            yield el("path", class_=name, d=_path([_flat(corner) for corner in corners], True))
        places = [
            (mark, [*self._on_side(mark, "l", block), *self._on_side(mark, "r", block)]) for mark in block.side
        ] + [(mark, [[(*self._turned(x, y), z1) for x, y in mark.points]]) for mark in block.top]
        for mark, drawn in places:
            d = "".join(_path([_flat(point) for point in points], mark.closed) for points in drawn)
            yield el("path", class_=mark.name, d=d)

    def _on_side(self, mark: Mark, face: Literal["l", "r"], block: Block) -> list[list[Solid]]:
        """A mark on the left or the right side of a block that fills its cell from side to side."""
        near = -block.high[0]
        place = [(near, along, up) if face == "l" else (along, near, up) for along, up in mark.points]
        return [place]


def _flat(point: Solid) -> Point:
    u, v, z = point
    return (u - v) * SIDE, -(u + v) * DEPTH - z * RISE


def _path(points: Sequence[Point], closed: bool = False) -> str:
    return "M" + "L".join(f"{x:.1f},{y:.1f}".replace(".0", "") for x, y in points) + ("Z" if closed else "")
