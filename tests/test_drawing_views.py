"""Views from the side: what hides what is worked out anew, by rays through boxes, without the painter's rule."""

from __future__ import annotations

import json
import math
import random
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, product
from xml.etree.ElementTree import Element, fromstring

import pytest

from commands import LAYOUTS
from drawn import every_code, with_class
from sim.world.files.plan_cells import CODES, part_at
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from splitwright.drawing.axonometry import CORNERS, Corner, axonometry, band
from splitwright.drawing.blocks import Block, block_of
from splitwright.drawing.svg import markup
from splitwright.drawing.turning_view import turning_view, view_data
from splitwright.words import Words, english

EYE: dict[Corner, tuple[int, int]] = {"SW": (-1, -1), "SE": (1, -1), "NE": (1, 1), "NW": (-1, 1)}
"""Toward the viewer, in x and y."""
Box = tuple[tuple[float, float, float], tuple[float, float, float]]


def to_eye(corner: Corner) -> tuple[float, float, float]:
    """Toward the viewer: at an elevation of 30 degrees (2 : 1: a square's diagonals), over the corner."""
    x, y = EYE[corner]
    return x / math.sqrt(2) * math.cos(math.pi / 6), y / math.sqrt(2) * math.cos(math.pi / 6), math.sin(math.pi / 6)


def scattered(seed: int, parts: int = 22) -> Layout:
    """Parts of all kinds in a small site."""
    rng = random.Random(seed)
    size = (rng.randint(1, 4), rng.randint(1, 4), rng.randint(1, 4))
    cells = [(x, y, z) for x in range(size[0]) for y in range(size[1]) for z in range(size[2])]
    chosen = rng.sample(cells, min(parts, len(cells)))
    return Layout("", size, parts=tuple(part_at(rng.choice(list(CODES)), cell) for cell in chosen))


def read_again(layout: Layout, corner: Corner) -> Element:
    return fromstring(markup(axonometry(layout, english(), corner)))


def on_picture(layout: Layout, corner: Corner, point: tuple[float, float, float]) -> tuple[float, float]:
    """Parallel projection, by the vectors of the picture's plane: to the right and upward, across the line of sight."""
    (ex, ey, _), (width, depth, _) = to_eye(corner), layout.size
    flat = math.hypot(ex, ey)
    right = (-ey / flat, ex / flat, 0.0)
    up = (-ex / flat * 0.5, -ey / flat * 0.5, math.cos(math.pi / 6))
    origin = (0 if EYE[corner][0] < 0 else width, 0 if EYE[corner][1] < 0 else depth, 0)
    scale = 16 * math.sqrt(2)
    at = [coordinate - start for coordinate, start in zip(point, origin, strict=True)]
    across, rise = (sum(a * b for a, b in zip(at, vector, strict=True)) for vector in (right, up))
    return scale * across, -scale * rise


def drawn_cells(layout: Layout, picture: Element, corner: Corner) -> list[Cell]:
    """The cells of what is drawn, in the order in which it is drawn, told by the place of its floor and its layer."""
    cells: list[Cell] = [*product(*map(range, layout.size))]  # type: ignore[list-item]
    places = {cell: on_picture(layout, corner, (cell[0] + 0.5, cell[1] + 0.5, cell[2])) for cell in cells}
    found = []
    for layer in with_class(picture, "layer"):
        z = int(layer.get("data-layer") or "")
        for use in layer.iter("use"):
            here = float(use.get("x") or ""), float(use.get("y") or "")
            near = [cell for cell, place in places.items() if cell[2] == z and math.dist(place, here) < 1]
            assert len(near) == 1, (here, z)
            found.append(near[0])
    return found


def box(layout: Layout, cell: Cell) -> Box:
    block = block_of(layout.by_cell[cell], layout.by_cell)
    x, y, z = cell[0] + 0.5, cell[1] + 0.5, cell[2]
    (x0, y0, z0), (x1, y1, z1) = block.low, block.high
    return (x + x0, y + y0, z + z0), (x + x1, y + y1, z + z1)


def depths(ray: tuple[float, float, float], eye: tuple[float, float, float], of: Box) -> tuple[float, float] | None:
    """Where a line of sight enters and leaves a box (slab method, from memory); None where it misses."""
    enters, leaves = -math.inf, math.inf
    for start, way, low, high in zip(ray, eye, *of, strict=True):
        first, second = sorted(((low - start) / way, (high - start) / way))
        enters, leaves = max(enters, first), min(leaves, second)
    return (enters, leaves) if leaves - enters > 1e-9 else None


def sights(a: Box, b: Box, rng: random.Random) -> Iterator[tuple[float, float, float]]:
    """Points within two boxes: a box that hides another is met by some line of sight through a point of it."""
    for low, high in (a, b):
        for _ in range(12):
            yield tuple(rng.uniform(start, end) for start, end in zip(low, high, strict=True))  # type: ignore[misc]


def wrongly_hidden(layout: Layout, order: list[Cell], corner: Corner) -> list[tuple[Cell, Cell]]:
    """Pairs of which the one drawn first would have to hide the one drawn later."""
    rng, eye = random.Random(1), to_eye(corner)
    found = []
    for first, later in combinations(order, 2):
        boxes = box(layout, first), box(layout, later)
        for ray in sights(*boxes, rng):
            one, other = (depths(ray, eye, each) for each in boxes)
            if one and other and one[0] >= other[1] - 1e-9:
                found.append((first, later))
                break
    return found


@pytest.mark.parametrize("corner", CORNERS)
@pytest.mark.parametrize("seed", range(6))
def test_nothing_is_painted_over_what_is_in_front_of_it(seed: int, corner: Corner) -> None:
    layout = scattered(seed)
    order = drawn_cells(layout, read_again(layout, corner), corner)
    assert Counter(order) == Counter(part.at for part in layout.parts), "every part once, where it stands"
    assert wrongly_hidden(layout, order, corner) == []


def test_the_check_of_the_order_finds_a_wrong_order() -> None:
    layout = Layout("", (2, 1, 2), parts=tuple(part_at("#", cell) for cell in ((0, 0, 0), (1, 0, 0), (1, 0, 1))))
    assert wrongly_hidden(layout, [(1, 0, 0), (0, 0, 0), (1, 0, 1)], "SW") == []
    assert wrongly_hidden(layout, [(0, 0, 0), (1, 0, 0), (1, 0, 1)], "SW") == [((0, 0, 0), (1, 0, 0))]
    assert wrongly_hidden(layout, [(0, 0, 0), (1, 0, 0), (1, 0, 1)], "NE") == []
    top, below, beside = (1, 0, 1), (1, 0, 0), (0, 0, 0)
    assert wrongly_hidden(layout, [top, below, beside], "NE") == [(top, below), (top, beside), (below, beside)]


@pytest.mark.parametrize("corner", CORNERS)
def test_blocks_stay_in_their_cells_and_look_as_the_projection_has_it(corner: Corner) -> None:
    """The three faces of each drawn block are those of its box, projected anew."""
    layout = every_code()
    picture = read_again(layout, corner)
    shapes = {f"#{shape.get('id')}": shape for defs in picture.iter("defs") for shape in defs}
    uses = list(picture.iter("use"))
    for use, cell in zip(uses, drawn_cells(layout, picture, corner), strict=True):
        shape = shapes[use.get("href") or ""]
        assert f"k-{layout.by_cell[cell].kind}" in (shape.get("class") or "")
        (low, high) = box(layout, cell)
        assert all(start <= a < b <= start + 1 for a, b, start in zip(low, high, cell, strict=True))
        corners = [(x, y, z) for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])]
        expected = [on_picture(layout, corner, point) for point in corners]
        dx, dy = float(use.get("x") or ""), float(use.get("y") or "")
        faces = [one for one in shape if one.get("class") in {"l", "r", "t"}]
        assert len(faces) == 3
        drawn = {(float(x) + dx, float(y) + dy) for face in faces
                 for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", face.get("d") or "")}  # fmt: skip
        assert len(drawn) == 7, "a box shows seven of its eight corners"
        for point in drawn:
            assert min(math.dist(point, other) for other in expected) < 0.3


@pytest.mark.parametrize("corner", CORNERS)
def test_arrows_on_nodes_point_to_their_outlets(corner: Corner) -> None:
    layout = Layout("", (4, 1, 1), parts=tuple(part_at(f"n{way}", (x, 0, 0)) for x, way in enumerate("EWNS")))
    picture = read_again(layout, corner)
    shapes = {f"#{shape.get('id')}": shape for defs in picture.iter("defs") for shape in defs}
    ways = {"E": (1, 0), "W": (-1, 0), "N": (0, 1), "S": (0, -1)}
    origin = on_picture(layout, corner, (0, 0, 0))
    for use, cell in zip(picture.iter("use"), drawn_cells(layout, picture, corner), strict=True):
        (arrow,) = with_class(shapes[use.get("href") or ""], "f")
        points = [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", arrow.get("d") or "")]
        middle = (points[1][0] + points[5][0]) / 2, (points[1][1] + points[5][1]) / 2
        tip = points[3][0] - middle[0], points[3][1] - middle[1]
        way = ways[layout.by_cell[cell].outlet]  # type: ignore[union-attr]
        expected = [a - b for a, b in zip(on_picture(layout, corner, (*way, 0)), origin, strict=True)]
        cosine = (tip[0] * expected[0] + tip[1] * expected[1]) / math.hypot(*tip) / math.hypot(*expected)
        assert cosine > 0.99


def test_letters_stand_at_the_sides_that_face_the_viewer() -> None:
    layout = every_code()
    for corner in CORNERS:
        letters = [text.text for text in with_class(read_again(layout, corner), "letter")]
        assert sorted(letters) == sorted(corner), corner


def test_layers_are_groups_and_high_layouts_have_bands() -> None:
    layout = replace(every_code(), size=(8, 6, 50))
    bands = [band(layout, z) for z in range(50)]
    assert bands == sorted(bands)
    assert set(bands) == set(range(bands[-1] + 1))
    assert bands[-1] < 24
    view = turning_view(layout, english())
    assert len(view.bands) == bands[-1] + 1
    css = (LAYOUTS.parents[1] / "splitwright/page/static/drawing.css").read_text(encoding="utf-8")
    assert all(f":has(.show-{number}:not(:checked)) .band-{number} " in css for number in range(24))


def test_all_ids_differ() -> None:
    view = turning_view(every_code(), english())
    ids = re.findall(r' id="([^"]+)"', "".join(picture for _, _, picture in view.corners))
    assert len(ids) == len(set(ids)) > 0


def test_data_for_the_script_is_inert_and_whole() -> None:
    words = english()
    hostile = Words("en", {**words.phrases, "letter.N": "</script><script>alert(1)//"}, words.items)
    layout = every_code()
    data = turning_view(layout, hostile).data
    assert "<" not in data
    read = json.loads(data)
    assert read["letters"]["N"] == "</script><script>alert(1)//"
    assert Counter((read["shapes"][shape]["kind"], tuple(at)) for shape, *at in read["parts"]) == Counter(
        (part.kind, part.at) for part in layout.parts
    )


def test_shapes_tell_every_code_apart() -> None:
    """On tops and sides alone, without colours: no two codes look the same (lines look as their links have it)."""
    looks: dict[tuple[object, ...], str] = {}
    for code in CODES:
        part = part_at(code, (0, 0, 0))
        block: Block = block_of(part, {part.at: part})
        looks.setdefault((block.low, block.high, block.top, block.side), code)
    assert sorted(looks.values()) == sorted(CODES)


def test_pictures_are_small() -> None:
    """Four views of 309 parts below 250 KB and of 1,236 below 900 KB."""
    for count, limit in ((309, 250_000), (1236, 900_000)):
        rng = random.Random(count)
        cells = [(x, y, z) for x in range(25) for y in range(10) for z in range(5)]
        layout = Layout("", (25, 10, 5), parts=tuple(
            part_at(rng.choice(list(CODES)), cell) for cell in rng.sample(cells, count)
        ))  # fmt: skip
        view = turning_view(layout, english())
        assert sum(len(picture.encode()) for _, _, picture in view.corners) + len(view.data.encode()) < limit


def test_view_data_of_an_empty_layout() -> None:
    layout = Layout("", (1, 1, 1))
    assert view_data(layout, english())["parts"] == []
    assert [*read_again(layout, "SW").iter("use")] == []


def test_examples_are_drawn_whole() -> None:
    for path in sorted(LAYOUTS.glob("*.plan")):
        layout = load_layout(path)
        for corner in CORNERS:
            order = drawn_cells(layout, read_again(layout, corner), corner)
            assert Counter(order) == Counter(part.at for part in layout.parts)
