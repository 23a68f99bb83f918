"""Plans of single layers, seen from above, to build from: north at the top, coordinates on all sides."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Final
from xml.etree.ElementTree import Element

from sim.world.files.picture import is_to_fill
from sim.world.geometry import Cell, Direction, cell_text
from sim.world.layout import Layout
from sim.world.parts import Line, Part
from splitwright.drawing.glyphs import CELL, fill_mark, glyph, outline, taken_sign
from splitwright.drawing.naming import part_name, plan_code
from splitwright.drawing.svg import el
from splitwright.page.assembly import cell_id
from splitwright.words import Words

MARGIN: Final = 26
"""Room for coordinates on each side of the grid."""
ROSE_ROOM: Final = 76
"""Height of the strip below for the compass rose, which is also the least width of a grid."""
BROAD: Final = 12
"""Columns above which a plan is not shrunk to the width of a small screen (it scrolls there)."""
CODE_FITS: Final = 4
"""Signs of a code that fit into a cell as they are."""
CODE_WIDTH: Final = 36
"""Room for a code in a cell."""
MARKED_FITS: Final = 3
MARKED_WIDTH: Final = 24
"""The same where a mark stands beside the code."""


def layer_plans(
    layout: Layout, words: Words, *, ids: bool = False, blocked: Collection[Cell] = ()
) -> list[Element]:
    """A plan for each layer, from the ground up; the compass is on the first. Linear in the parts and in the size of
    the layers. ``blocked``: cells of the site that are taken."""
    return [
        layer_plan(layout, z, words, ids=ids, blocked=blocked, has_rose=z == 0) for z in range(layout.size[2])
    ]


def layer_plan(
    layout: Layout, z: int, words: Words, *, ids: bool = False, blocked: Collection[Cell] = (), has_rose: bool = True
) -> Element:
    """The plan of layer ``z``. ``ids``: parts have the ids that sentences on the sheet link to (one plan a page).

    A part is a ``<g class="part k-KIND" data-cell="x,y,z">`` about the centre of its cell; the layer below shows in
    dashed outlines. A cell in ``blocked`` is a ``<g class="blocked" data-cell="x,y,z">``.
    """
    width, depth, _ = layout.size
    parts = [part for part in layout.parts if part.at[2] == z]
    room = ROSE_ROOM if has_rose else 0
    page_width, page_height = max(width * CELL, ROSE_ROOM) + 2 * MARGIN, depth * CELL + 2 * MARGIN + room
    place = f"translate({MARGIN + ROSE_ROOM / 2:g} {page_height - ROSE_ROOM / 2:g})"
    key = "drawing.plan_below" if z else "drawing.plan_ground"
    values = {"parts": len(parts)} | ({"below": z - 1} if z else {})
    return el(
        "svg",
        el("title", words.text("drawing.plan_title", layer=z)),
        el("desc", words.text(key, **values)),
        el("g", *_sheet_of(layout, z, words, parts, ids, blocked), transform=f"translate({MARGIN} {MARGIN})"),
        *([el("g", *_rose(words), transform=place)] if has_rose else []),
        class_="drawing plan" + (" broad" if width > BROAD else ""), role="img",
        viewBox=f"0 0 {page_width} {page_height}", width=page_width, height=page_height, preserveAspectRatio="xMinYMin",
    )  # fmt: skip


def centre(cell: Cell, depth: int) -> tuple[int, int]:
    """The centre of a cell on a grid of ``depth`` rows whose corner in the north-west is the origin."""
    return cell[0] * CELL + CELL // 2, (depth - 1 - cell[1]) * CELL + CELL // 2


def part_group(
    part: Part, layout: Layout, words: Words, *more: Element, id: str | None = None, is_named: bool = True
) -> Element:
    """A part with its name, at its place on a layer's grid. ``more``: what else it shows."""
    x, y = centre(part.at, layout.size[1])
    return el(
        "g",
        *([el("title", str(part_name(part, layout.by_cell, words)))] if is_named else []),
        *more,
        class_=f"part k-{part.kind}", data_cell=cell_text(part.at), id=id, transform=f"translate({x} {y})",
    )  # fmt: skip


def grid(layout: Layout, *, is_ground: bool) -> Element:
    """The fine lines between cells, and the frame."""
    width, depth = layout.size[0] * CELL, layout.size[1] * CELL
    across = "".join(f"M0 {y}H{width}" for y in range(CELL, depth, CELL))
    along = "".join(f"M{x} 0V{depth}" for x in range(CELL, width, CELL))
    frame = el("rect", width=width, height=depth, class_="frame on-ground" if is_ground else "frame")
    return el("g", frame, el("path", d=across + along), class_="grid")


def coordinates(layout: Layout) -> Element:
    """x along the top and the bottom, y along both sides."""
    width, depth = layout.size[0], layout.size[1]
    columns = [_number(x, x * CELL + CELL / 2, y) for x in range(width) for y in (-7.0, depth * CELL + 17.0)]
    rows = [
        _number(y, x, (depth - 1 - y) * CELL + CELL / 2 + 5) for y in range(depth) for x in (-13.0, width * CELL + 13.0)
    ]
    return el("g", *columns, *rows, class_="coordinates")


def _number(number: int, x: float, y: float) -> Element:
    return el("text", str(number), x=x, y=y)


def _sheet_of(
    layout: Layout, z: int, words: Words, parts: list[Part], ids: bool, blocked: Collection[Cell]
) -> Iterator[Element]:
    yield grid(layout, is_ground=z == 0)
    yield from (_taken(cell, layout.size[1], words) for cell in sorted(blocked) if cell[2] == z)
    below = [part for part in layout.parts if part.at[2] == z - 1]
    if below:
        yield el("g", *(_ghost(part, layout.size[1]) for part in below), class_="below")
    for part in parts:
        marks = [fill_mark()] if is_to_fill(part) else []
        code = _code(plan_code(part, words), bool(marks))
        signs = glyph(part, layout.by_cell)
        # A line keeps its full size, so that runs join; other signs make room for their code.
        shown = signs if isinstance(part, Line) else [el("g", *signs, class_="sign")]
        yield part_group(part, layout, words, *shown, code, *marks, id=cell_id(part.at) if ids else None)
    yield coordinates(layout)


def _taken(cell: Cell, depth: int, words: Words) -> Element:
    x, y = centre(cell, depth)
    name = words.text("drawing.taken", cell=cell_text(cell))
    return el("g", el("title", name), *taken_sign(), class_="blocked", data_cell=cell_text(cell),
              transform=f"translate({x} {y})")  # fmt: skip


def _code(code: str, is_marked: bool) -> Element:
    """A house's letters can be three: a code that would reach into the next cell, or into the mark beside it, is
    narrowed."""
    fits, width = (MARKED_FITS, MARKED_WIDTH) if is_marked else (CODE_FITS, CODE_WIDTH)
    is_long = len(code) > fits
    return el(
        "text", code, class_="code", x=-18.5, y=-9,
        textLength=width if is_long else None, lengthAdjust="spacingAndGlyphs" if is_long else None,
    )  # fmt: skip


def _ghost(part: Part, depth: int) -> Element:
    x, y = centre(part.at, depth)
    shape = outline(part)
    shape.set("data-below", cell_text(part.at))
    shape.set("transform", f"translate({x} {y})")
    return shape


def _rose(words: Words) -> Iterator[Element]:
    """A surveyor's needle in a ring, with the letters of the four sides."""
    yield el("circle", r=17, class_="ring")
    yield el("path", d="M-24 0H-17M17 0H24M0 24V17", class_="ring")
    yield el("path", d="M0-24L7 12L0 7Z", class_="needle-dark")
    yield el("path", d="M0-24L-7 12L0 7Z", class_="needle-light")
    places: dict[Direction, tuple[float, float]] = {"N": (0, -26.5), "E": (31, 4.5), "S": (0, 36.5), "W": (-31, 4.5)}
    for way, (x, y) in places.items():
        yield el("text", words.letter(way), x=x, y=y, class_="letter")
