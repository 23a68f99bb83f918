"""Every layer in one picture, on which the replay plays."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final
from xml.etree.ElementTree import Element

from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Line, Node, Part
from splitwright.drawing.glyphs import CELL, glyph, lock_mark
from splitwright.drawing.layer_plan import MARGIN, centre, coordinates, grid, part_group
from splitwright.drawing.svg import el
from splitwright.words import Words

HEADING: Final = 24
"""Room for a layer's heading."""
COLUMNS: Final = 24
"""Cells in a row of layers, at most (a wider layer has a row of its own)."""
NAMED_MOST: Final = 600
"""Parts of a layout whose signs tell their names; more would make a page heavy, and plans tell them too."""
LEAST: Final = 4
"""Least width of a layer's room, in cells, so that its heading has room."""


def stage(layout: Layout, words: Words) -> Element:
    """The layers in rows, from the ground up. Linear in the parts and in the size of the layers.

    ``<g class="stage-layer" data-layer="z" data-origin="x,y">`` holds a layer: x, y is the centre of its cell 0,0,z in
    the picture; cell x,y,z is 40 units a cell to the right and up from there. Parts are as on plans, with an empty
    ``<text class="count">`` on a container, a ``<g class="lock">`` on a node (shown where the part has the class
    ``is-locked``) and an empty ``<text class="level">`` on a line. What moves goes into the last group, ``movers``.
    ``data-room`` is the width and height that a layer takes, ``data-across`` how many stand in a row: a script may
    arrange them anew where there is less room.
    """
    width, height = _extent(layout)
    room = "{},{}".format(*_room(layout))
    return el(
        "svg",
        el("title", words.text("drawing.stage_title")),
        el("desc", words.text("drawing.stage_text", parts=len(layout.parts))),
        *(_layer(layout, z, words) for z in range(layout.size[2])),
        el("g", class_="movers"),
        class_="drawing stage", role="img", viewBox=f"0 0 {width} {height}", width=width, height=height,
        data_room=room, data_across=_in_a_row(layout),
    )  # fmt: skip


def stage_positions(layout: Layout) -> dict[Cell, tuple[float, float]]:
    """The centre of every cell of the site on the stage."""
    width, depth, height = layout.size
    found: dict[Cell, tuple[float, float]] = {}
    for z in range(height):
        left, top = _corner(layout, z)
        for y in range(depth):
            for x in range(width):
                dx, dy = centre((x, y, z), depth)
                found[x, y, z] = (left + dx, top + dy)
    return found


def _room(layout: Layout) -> tuple[int, int]:
    """Width and height that one layer takes, with its coordinates and its heading."""
    return max(layout.size[0], LEAST) * CELL + 2 * MARGIN, layout.size[1] * CELL + 2 * MARGIN + HEADING


def _in_a_row(layout: Layout) -> int:
    return max(1, min(layout.size[2], COLUMNS * CELL // _room(layout)[0]))


def _extent(layout: Layout) -> tuple[int, int]:
    width, height = _room(layout)
    across = _in_a_row(layout)
    return width * across, height * -(-layout.size[2] // across)


def _corner(layout: Layout, z: int) -> tuple[int, int]:
    """The north-western corner of a layer's grid."""
    width, height = _room(layout)
    row, column = divmod(z, _in_a_row(layout))
    return column * width + MARGIN, row * height + MARGIN + HEADING


def _layer(layout: Layout, z: int, words: Words) -> Element:
    left, top = _corner(layout, z)
    x, y = centre((0, 0, z), layout.size[1])
    is_named = len(layout.parts) <= NAMED_MOST
    heading = words.text("drawing.layer" if z else "drawing.ground_layer", layer=z)
    return el(
        "g",
        el("text", heading, class_="heading", x=0, y=-MARGIN),
        grid(layout, is_ground=z == 0),
        coordinates(layout),
        *(
            part_group(part, layout, words, *glyph(part, layout.by_cell), *_signs(part), is_named=is_named)
            for part in layout.parts
            if part.at[2] == z
        ),
        class_="stage-layer", data_layer=z, data_origin=f"{left + x},{top + y}", transform=f"translate({left} {top})",
    )  # fmt: skip


def _signs(part: Part) -> Iterator[Element]:
    """What the replay fills in or shows."""
    if isinstance(part, (Bin, Node, Furnace)):
        yield el("text", class_="count", x=18, y=18)
    if isinstance(part, Node):
        yield lock_mark()
    if isinstance(part, Line):
        yield el("text", class_="level", x=-18, y=-8)
