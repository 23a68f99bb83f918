"""A sheet on a phone: the way back from the plans, ticks cleared, layers that can be read, the cursor in sight."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from browser.opened import Opener
from browser.sheets import Sheets

PHONE = 360
CELL_LEAST = 36
"""Pixels of a cell of the replay, so that the numbers in it can be read."""


@pytest.fixture
def page(sheets: Sheets, open_page: Opener) -> Page:
    return open_page(sheets.answered("burst-row-of-three"), width=PHONE).page


@pytest.mark.parametrize("way", ["button", "Escape"])
def test_there_is_a_way_back_from_a_plan_to_the_step(page: Page, way: str) -> None:
    link = page.locator("#order a.cells").nth(3)
    link.click()
    button = page.locator("button.back-there")
    expect(button).to_be_visible()
    expect(link).not_to_be_in_viewport()
    if way == "button":
        button.focus()
        page.keyboard.press("Enter")
    else:
        page.keyboard.press("Escape")
    expect(link).to_be_focused()
    expect(link).to_be_in_viewport()
    expect(button).to_be_hidden()


def test_ticks_that_are_cleared_stay_cleared(page: Page) -> None:
    boxes = page.locator("#order input[type=checkbox]")
    boxes.nth(0).check()
    boxes.nth(2).check()
    page.reload()
    expect(boxes.nth(2)).to_be_checked()
    page.locator("button.clear-ticks").click()
    expect(page.locator("#order input:checked")).to_have_count(0)
    page.reload()
    expect(page.locator("#order input:checked")).to_have_count(0)


def test_the_layers_of_the_replay_stand_one_below_another_at_a_readable_size(page: Page) -> None:
    frames = [frame.bounding_box() for frame in page.locator("svg.stage .grid .frame").all()]
    boxes = [box for box in frames if box is not None]
    assert len(boxes) == 4
    assert all(below["y"] >= above["y"] + above["height"] for above, below in pairwise(boxes))
    assert all(box["width"] / 6 >= CELL_LEAST for box in boxes)


@pytest.mark.parametrize("tick", [5, 200, 440])
def test_the_cursor_of_the_waves_stays_in_sight(page: Page, tick: int) -> None:
    bar = page.locator(".replay input[type=range]")
    bar.evaluate("(bar, tick) => { bar.value = tick; bar.dispatchEvent(new Event('input', {bubbles: true})); }", tick)
    waves, cursor = page.locator(".replay-waves"), page.locator(".replay-waves .cursor")
    room, line = waves.bounding_box(), cursor.bounding_box()
    assert room is not None
    assert line is not None
    assert room["x"] <= line["x"] <= room["x"] + room["width"]


def test_reasons_are_folded_and_open_by_keyboard(page: Page) -> None:
    table = page.locator("#shown details").first
    assert not table.evaluate("one => one.open"), "what stands in the table is said above in short"
    table.locator("> summary").focus()
    page.keyboard.press("Enter")
    folded = table.locator("details").first
    assert not folded.evaluate("one => one.open")
    folded.locator("> summary").focus()
    page.keyboard.press("Enter")
    assert folded.evaluate("one => one.open")


def test_paper_shows_what_is_folded(sheets: Sheets, open_page: Opener) -> None:
    opened = open_page(sheets.answered("burst-row-of-three"), media="print")
    folded = opened.page.locator("#shown details").first
    text = folded.locator("a.cells").first
    assert text.is_visible()


def test_who_has_begun_goes_on_at_the_next_step(sheets: Sheets, open_page: Opener, tmp_path: Path) -> None:
    """A sheet whose layers begin folded: the layer of the next step is open when the page is opened again."""
    text = sheets.answered("burst-row-of-three").read_text(encoding="utf-8")
    path = tmp_path / "folded.html"
    path.write_text(text.replace('<details class="folded" open>', '<details class="folded">'), encoding="utf-8")
    page = open_page(path, width=PHONE).page
    layers = page.locator("#order details")
    opened = "all => all.map((one) => one.open)"
    assert not any(layers.evaluate_all(opened))
    layers.nth(0).locator("> summary").click()
    for box in layers.nth(0).locator("input[type=checkbox]").all():
        box.check()
    page.reload()
    assert layers.evaluate_all(opened)[:3] == [False, True, False]
