"""The view from all sides, and the tick boxes of the build order: worked as a person works them, by keyboard."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page

from browser.opened import Opener
from browser.sheets import Sheets
from commands import LAYOUTS
from sim.world.files.reading import load_layout

PLAN = "burst-row-of-three"
PICTURES = """() => [...document.querySelectorAll("#view svg")].filter((one) => one.getClientRects().length > 0)"""
LAYERS = f"""() => {{
    const pictures = ({PICTURES})();
    if (pictures.length !== 1) return "pictures: " + pictures.length;
    return [...pictures[0].querySelectorAll(".layer")].map((one) => getComputedStyle(one).display !== "none");
}}"""
"""Of each layer of the one picture that is to be seen, from the ground up: whether it is shown."""
DRAWN = f"""() => ({PICTURES})().map((one) => [...one.querySelectorAll("use, path")].map(
    (part) => ["x", "y", "d"].map((name) => part.getAttribute(name)).join()).join())"""


@pytest.fixture
def sheet(sheets: Sheets) -> Path:
    return sheets.of(PLAN, "--time-limit", "0")


def height() -> int:
    return load_layout(LAYOUTS / f"{PLAN}.plan").size[2]


def drawn(page: Page, scripted: bool = True) -> str:
    """The picture that is to be seen, once it has been drawn: a script may draw it with the next frame."""
    if scripted:
        page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    (found,) = page.evaluate(DRAWN)
    return str(found)


@pytest.mark.parametrize("javascript", [True, False], ids=["with scripts", "without"])
def test_each_layer_can_be_hidden(sheet: Path, open_page: Opener, javascript: bool) -> None:
    opened = open_page(sheet, javascript=javascript)
    page, layers = opened.page, height()
    boxes = page.locator("#view input[type=checkbox]")
    assert boxes.count() == layers
    assert page.evaluate(LAYERS) == [True] * layers
    for number in range(layers):
        boxes.nth(number).press("Space")
        assert page.evaluate(LAYERS) == [other != number for other in range(layers)]
        boxes.nth(number).press("Space")
    assert page.evaluate(LAYERS) == [True] * layers
    opened.assert_quiet()


@pytest.mark.parametrize("javascript", [True, False], ids=["with scripts", "without"])
def test_it_is_seen_from_four_corners(sheet: Path, open_page: Opener, javascript: bool) -> None:
    page = open_page(sheet, javascript=javascript).page
    corners = page.locator("#view input[type=radio]")
    assert corners.count() == 4
    seen = [drawn(page, javascript)]
    corners.first.focus()
    for number in range(1, 4):
        page.keyboard.press("ArrowDown")
        assert corners.nth(number).is_checked()
        seen.append(drawn(page, javascript))
    assert len(set(seen)) == 4


def test_it_turns_by_keyboard_and_by_hand(sheet: Path, open_page: Opener) -> None:
    opened = open_page(sheet)
    page = opened.page
    slider = page.locator("#view input[type=range]")
    first = drawn(page)
    slider.press("ArrowRight")
    assert drawn(page) != first
    slider.press("ArrowLeft")
    assert drawn(page) == first
    slider.press("End")
    turned = drawn(page)
    assert turned != first
    picture = page.locator("#view svg").locator("visible=true")
    picture.scroll_into_view_if_needed()
    box = picture.bounding_box()
    assert box is not None
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] + 40, middle[1], steps=4)
    page.mouse.up()
    dragged = drawn(page)
    assert dragged != turned
    page.mouse.move(*middle)
    assert drawn(page) == dragged, "it stays when it was let go"
    opened.assert_quiet()


def test_paper_shows_the_view_once_and_whole(sheet: Path, open_page: Opener) -> None:
    page = open_page(sheet).page
    page.locator("#view input[type=checkbox]").first.press("Space")
    page.locator("#view input[type=range]").press("End")
    page.emulate_media(media="print")
    assert page.evaluate(LAYERS) == [True] * height()


def test_ticks_are_set_by_keyboard_and_stay(sheet: Path, open_page: Opener) -> None:
    page = open_page(sheet).page
    boxes = page.locator("#order input[type=checkbox]")
    assert boxes.count() >= len(load_layout(LAYOUTS / f"{PLAN}.plan").parts), "one for each part at least"
    assert page.locator("#order input:checked").count() == 0
    boxes.nth(0).press("Space")
    boxes.nth(2).press("Space")
    page.reload()
    assert [boxes.nth(number).is_checked() for number in range(4)] == [True, False, True, False]
    boxes.nth(0).press("Space")
    page.reload()
    assert [boxes.nth(number).is_checked() for number in range(4)] == [False, False, True, False]
    assert open_page(sheet).page.locator("#order input:checked").count() == 0, "kept in that browser alone"


def test_ticks_can_be_set_without_scripts(sheet: Path, open_page: Opener) -> None:
    page = open_page(sheet, javascript=False).page
    page.locator("#order input[type=checkbox]").nth(1).press("Space")
    assert page.locator("#order input:checked").count() == 1
