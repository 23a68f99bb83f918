"""The script that turns the view draws what the pictures without a script show, and in an order that hides rightly."""

from __future__ import annotations

import math
import random
from itertools import combinations
from pathlib import Path
from statistics import mean

import pytest
from playwright.sync_api import Page

from browser.checks import axe_violations, html_faults, width_faults
from browser.opened import Opener
from drawn import every_code
from sim.world.files.plan_cells import CODES, part_at
from sim.world.layout import Layout
from splitwright.drawing.blocks import block_of
from splitwright.drawing.turning_view import turning_view
from splitwright.page.assembly import STYLES_OF_ALL, environment, static
from splitwright.words import english

Drawn = tuple[float, float, list[str]]
"""Where a block is drawn, and its left, right and top face."""
DRAWN = """(name) => [...document.querySelectorAll(`.axonometry.${name} .layer use`)].map((use) => {
    const shape = document.querySelector(use.getAttribute("href"));
    const faces = ["l", "r", "t"].map((face) => shape.querySelector(`.${face}`).getAttribute("d"));
    return [Number(use.getAttribute("x")), Number(use.getAttribute("y")), faces];
})"""
TURN = """(degrees) => new Promise((done) => {
    const slider = document.querySelector("input[type=range]");
    slider.value = degrees;
    slider.dispatchEvent(new Event("input"));
    requestAnimationFrame(() => requestAnimationFrame(done));
})"""


def page_of(layout: Layout, path: Path) -> Path:
    """A page with nothing but the view."""
    words, sheet = english(), {"view": turning_view(layout, english())}
    view = environment().get_template("view.html.j2").render(sheet=sheet, say=words.text)
    styles = "".join(f"<style>{static(name)}</style>" for name in STYLES_OF_ALL)
    path.write_text(
        f'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>View</title>{styles}'
        f'<meta name="viewport" content="width=device-width"></head><body><main><h1>View</h1>{view}</main>'
        f"<script>{static('turning.js')}</script></body></html>",
        encoding="utf-8",
    )
    return path


def drawn(shown: Page, name: str) -> list[Drawn]:
    return [(x, y, faces) for x, y, faces in shown.evaluate(DRAWN, name)]


def corners_of(path: str) -> set[tuple[float, float]]:
    return {(float(x), float(y)) for x, _, y in (at.partition(",") for at in path.strip("MZ").split("L"))}


def test_at_the_four_corners_it_draws_the_same(tmp_path: Path, open_page: Opener) -> None:
    opened = open_page(page_of(every_code(), tmp_path / "view.html"))
    for quarter, corner in enumerate(("SW", "SE", "NE", "NW")):
        opened.page.evaluate(TURN, 90 * quarter)
        still, turned = drawn(opened.page, f"from-{corner}"), drawn(opened.page, "turned")
        assert len(still) == len(turned) > 0
        dx, dy = shift(still, turned)
        for x, y, faces in still:
            places = [other for other in turned if math.dist((x, y), (other[0] - dx, other[1] - dy)) < 0.3]
            assert any(all(map(alike, faces, other[2])) for other in places), (corner, x, y)
    opened.assert_quiet()


def alike(one: str, other: str) -> bool:
    """Two outlines have the same corners."""
    return all(min(math.dist(at, to) for to in corners_of(other)) < 0.3 for at in corners_of(one))


def shift(still: list[Drawn], turned: list[Drawn]) -> tuple[float, float]:
    """How far the script's picture is moved: it has its middle at the middle of the site."""
    x, y = (mean(one[axis] for one in turned) - mean(one[axis] for one in still) for axis in (0, 1))
    return x, y


@pytest.mark.parametrize("degrees", [0, 17, 45, 133, 225, 300, 359])
def test_at_any_angle_nothing_is_painted_over_what_is_in_front(
    degrees: int, tmp_path: Path, open_page: Opener
) -> None:
    rng = random.Random(degrees)
    cells = [(x, y, z) for x in range(4) for y in range(3) for z in range(3)]
    layout = Layout("", (4, 3, 3), parts=tuple(part_at(rng.choice(list(CODES)), at) for at in rng.sample(cells, 20)))
    shown = open_page(page_of(layout, tmp_path / "view.html")).page
    shown.evaluate(TURN, degrees)
    # Toward the viewer: to the south-west at 0 degrees, and round against the clock; 30 degrees up.
    way = math.radians(225 + degrees)
    eye = math.cos(way) * math.cos(math.pi / 6), math.sin(way) * math.cos(math.pi / 6), 0.5
    places = {place_of(at, way): at for at in layout.by_cell}
    order = []
    for x, y, _ in drawn(shown, "turned"):
        near = [cell for (px, py), cell in places.items() if math.dist((px, py), (x, y)) < 0.2]
        assert near, "each block stands at the place that the projection has for its cell"
        order.append(near)
    order_of = settled(order)
    assert sorted(order_of) == sorted(layout.by_cell)
    for first, later in combinations(order_of, 2):
        assert not hides(layout, first, later, eye), (first, later)


def place_of(cell: tuple[int, int, int], way: float) -> tuple[float, float]:
    """The middle of a cell's floor in the picture of a site of 4 by 3 cells, its middle at 0, 0."""
    x, y, z = cell[0] + 0.5 - 2, cell[1] + 0.5 - 1.5, cell[2]
    scale = 16 * math.sqrt(2)
    across = -math.sin(way) * x + math.cos(way) * y
    near = math.cos(way) * x + math.sin(way) * y
    return scale * across, scale * near / 2 - scale * math.cos(math.pi / 6) * z


def settled(order: list[list[tuple[int, int, int]]]) -> list[tuple[int, int, int]]:
    """Where two cells have one place in the picture, layers tell them apart: they are drawn from the ground up."""
    found: list[tuple[int, int, int]] = []
    for near in order:
        found.append(min((cell for cell in near if cell not in found), key=lambda cell: cell[2]))
    return found


def hides(layout: Layout, front: tuple[int, int, int], back: tuple[int, int, int], eye: tuple[float, ...]) -> bool:
    """Some line of sight meets the block in ``front`` nearer to the viewer than the other."""
    rng = random.Random(2)
    boxes = []
    for cell in (front, back):
        block = block_of(layout.by_cell[cell], layout.by_cell)
        at = (cell[0] + 0.5, cell[1] + 0.5, cell[2])
        boxes.append([(low + c, high + c) for low, high, c in zip(block.low, block.high, at, strict=True)])
    for sides in boxes * 10:
        start = [rng.uniform(*side) for side in sides]
        spans = []
        for other in boxes:
            ends = [sorted(((a - s) / e, (b - s) / e)) for (a, b), s, e in zip(other, start, eye, strict=True)]
            spans.append((max(low for low, _ in ends), min(high for _, high in ends)))
        (f0, f1), (b0, b1) = spans
        if f1 - f0 > 1e-9 and b1 - b0 > 1e-9 and f0 >= b1 - 1e-9:
            return True
    return False


def test_the_view_is_fit_for_all(tmp_path: Path, open_page: Opener) -> None:
    path = page_of(every_code(), tmp_path / "view.html")
    assert html_faults(path.read_text(encoding="utf-8")) == []
    for width in (1280, 320):
        opened = open_page(path, width=width)
        assert axe_violations(opened.page) == []
        assert width_faults(opened.page) == []
        opened.assert_quiet()
