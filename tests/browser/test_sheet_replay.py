"""The replay on the sheet, against ``trial --json``, which knows nothing of recordings and pages."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from browser.opened import WAIT_MS, Opener
from browser.sheets import Sheets, trial_of

EVEN, UNEVEN = "burst-row-of-three", "row-of-three-unlocked"
TICKS = (1, 8, 29, 60, 131)
STAGE = """() => Object.fromEntries([...document.querySelectorAll("svg.stage .part")].map((one) => [one.dataset.cell, {
    count: one.querySelector(".count") ? Number(one.querySelector(".count").textContent.replace(/\\D/g, "")) : null,
    locked: one.classList.contains("is-locked"), on: one.classList.contains("is-on"),
    lock: one.querySelector(".lock") ? getComputedStyle(one.querySelector(".lock")).display !== "none" : null,
    level: one.querySelector(".level") ? one.querySelector(".level").textContent : null }]))"""


def replay_of(page: Page) -> Locator:
    return page.locator(".replay")


def tick_of(page: Page) -> int:
    return int(replay_of(page).get_attribute("data-tick") or "")


def bar_of(page: Page) -> Locator:
    return page.locator("#replay input[type=range]")


def last_of(page: Page) -> int:
    return int(bar_of(page).get_attribute("max") or "")


def set_to(page: Page, tick: int) -> None:
    bar_of(page).fill(str(tick))
    expect(replay_of(page)).to_have_attribute("data-tick", str(tick))


def assert_stage_is_as(page: Page, trial: dict[str, Any]) -> None:
    """What the stage shows is what the trial says: contents of all containers, locks, levels."""
    stage = page.evaluate(STAGE)
    held = {cell: sum(slot[1] for slot in slots if slot) for cell, slots in trial["contents"].items()}
    assert {cell: shown["count"] for cell, shown in stage.items() if shown["count"] is not None} == held
    assert sorted(cell for cell, shown in stage.items() if shown["locked"]) == sorted(trial["locked"])
    assert [cell for cell, shown in stage.items() if shown["lock"] not in (None, shown["locked"])] == []
    on = {cell for cell, level in trial["signals"].items() if level}
    assert {cell for cell, shown in stage.items() if shown["on"]} == on
    levels = {cell: shown["level"] for cell, shown in stage.items() if shown["level"]}
    assert levels == {cell: str(trial["signals"][cell]) for cell in levels}
    assert {cell for cell, shown in stage.items() if shown["level"] is not None} & on <= set(levels), "lines on"


@pytest.fixture(params=[EVEN, UNEVEN])
def plan(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def sheet(sheets: Sheets, plan: str) -> Path:
    return sheets.of(plan, "--time-limit", "0")


def test_any_tick_shows_what_the_trial_has_then(sheet: Path, plan: str, open_page: Opener) -> None:
    opened = open_page(sheet)
    page = opened.page
    for tick in TICKS:
        set_to(page, tick)
        assert_stage_is_as(page, trial_of(plan, "--ticks", str(tick)))
    for tick in reversed(TICKS):
        set_to(page, tick)
        assert_stage_is_as(page, trial_of(plan, "--ticks", str(tick)))
    opened.assert_quiet()


def test_the_end_is_that_of_the_trial(sheet: Path, plan: str, open_page: Opener) -> None:
    page = open_page(sheet).page
    bar_of(page).press("End")
    assert tick_of(page) == last_of(page)
    trial = trial_of(plan)
    assert trial["at_rest"]
    assert_stage_is_as(page, trial)
    (stream,) = trial["streams"]
    columns = "(rows) => rows.map((row) => [...row.cells].map((cell) => cell.textContent.trim()))"
    rows = page.locator(".replay-totals tbody tr").evaluate_all(columns)
    assert [int(row[2]) for row in rows] == stream["delivered"], "in the whole trial"
    assert [int(row[-1]) for row in rows] == stream["delivered"], "by now"
    bar_of(page).press("Home")
    assert tick_of(page) == 0
    rows = page.locator(".replay-totals tbody tr").evaluate_all(columns)
    assert [int(row[-1]) for row in rows] == [0] * len(rows)


def test_time_bar_by_keyboard(sheet: Path, open_page: Opener) -> None:
    page = open_page(sheet).page
    bar_of(page).focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    assert tick_of(page) == 3
    page.keyboard.press("ArrowLeft")
    assert tick_of(page) == 2
    assert "2" in page.locator(".replay-readout").inner_text()
    page.locator(".replay-forward").press("Enter")
    assert tick_of(page) == 3
    page.locator(".replay-back").press("Space")
    assert tick_of(page) == 2
    assert bar_of(page).input_value() == "2"


def test_it_plays_pauses_and_ends(sheet: Path, open_page: Opener) -> None:
    opened = open_page(sheet)
    page, replay = opened.page, replay_of(opened.page)
    expect(replay).to_have_attribute("data-playing", "false")
    play = page.locator(".replay-play")
    name = play.inner_text()
    play.press("Enter")
    expect(replay).to_have_attribute("data-playing", "true")
    assert play.inner_text() != name
    page.wait_for_function("() => Number(document.querySelector('.replay').dataset.tick) >= 2", timeout=WAIT_MS)
    play.press("Enter")
    expect(replay).to_have_attribute("data-playing", "false")
    assert play.inner_text() == name
    paused = tick_of(page)
    page.wait_for_timeout(200)
    assert tick_of(page) == paused
    last = last_of(page)
    set_to(page, last - 3)
    play.press("Enter")
    expect(replay).to_have_attribute("data-tick", str(last), timeout=WAIT_MS)
    expect(replay).to_have_attribute("data-playing", "false", timeout=WAIT_MS)
    play.press("Enter")
    page.wait_for_function("(last) => Number(document.querySelector('.replay').dataset.tick) < last", arg=last)
    opened.assert_quiet()


def test_items_are_seen_on_their_way(sheets: Sheets, open_page: Opener) -> None:
    page = open_page(sheets.of(EVEN, "--time-limit", "0")).page
    page.locator(".replay-rate select").select_option(index=0)
    page.locator(".replay-play").press("Enter")
    page.wait_for_function("() => document.querySelector('svg.stage .movers').childElementCount > 0", timeout=WAIT_MS)


def test_less_motion_still_plays(sheets: Sheets, open_page: Opener) -> None:
    opened = open_page(sheets.of(EVEN, "--time-limit", "0"), reduced_motion="reduce")
    page = opened.page
    assert replay_of(page).get_attribute("data-playing") == "false"
    page.locator(".replay-play").press("Enter")
    page.wait_for_function("() => Number(document.querySelector('.replay').dataset.tick) >= 2", timeout=WAIT_MS)
    assert page.evaluate("() => document.getAnimations().length") == 0
    opened.assert_quiet()


@pytest.mark.parametrize("picture", [".replay-waves svg", ".replay-chart svg"])
@pytest.mark.parametrize("width", [320, 1280])
def test_a_click_on_waves_or_chart_sets_the_tick(
    sheets: Sheets, open_page: Opener, picture: str, width: int
) -> None:
    """The mark that the axis calls 100 is at tick 100, to within a unit of the picture."""
    page = open_page(sheets.of(EVEN, "--time-limit", "0"), width=width).page
    mark = page.locator(picture).first.locator("text").filter(has_text=re.compile("^100$"))
    mark.scroll_into_view_if_needed()
    box = mark.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] - 20)
    assert abs(tick_of(page) - 100) <= 1


def test_without_scripts_the_pictures_stay(sheet: Path, open_page: Opener) -> None:
    page = open_page(sheet, javascript=False).page
    assert not page.locator(".replay-playing").is_visible()
    assert page.locator(".replay-waves svg").is_visible()
    assert page.locator(".replay-chart svg").first.is_visible()
    assert page.locator(".replay noscript p").is_visible()
