"""The build sheet in a browser: quiet, self-contained, for any width and the keyboard, with JavaScript and without."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page

from browser.checks import axe_violations, html_faults, keyboard_faults, nu_faults, width_faults
from browser.opened import Opener
from browser.sheets import Sheets

SECTIONS = ("shown", "parts-list", "plans", "order", "workings", "view", "replay", "rules")
EVEN, UNEVEN = "burst-row-of-three", "row-of-three-unlocked"
WIDTHS = (320, 1280)
BYTES_MOST = 2_000_000
"""Of the issue: under 2 MB."""


@pytest.fixture(params=[EVEN, UNEVEN])
def sheet(sheets: Sheets, request: pytest.FixtureRequest) -> Path:
    """A sheet of a split that is even, and one of a split that goes wrong."""
    return sheets.answered(request.param)


def ids(page: Page) -> list[str]:
    found: list[str] = page.evaluate("() => [...document.querySelectorAll('main > section')].map((one) => one.id)")
    return found


def test_page_is_quiet_and_asks_for_nothing(sheet: Path, open_page: Opener) -> None:
    assert sheet.stat().st_size < BYTES_MOST
    for javascript in (True, False):
        opened = open_page(sheet, javascript=javascript)
        assert set(SECTIONS) <= set(ids(opened.page))
        opened.assert_quiet()


def test_trouble_is_told_where_the_split_goes_wrong(sheets: Sheets, open_page: Opener) -> None:
    assert "trouble" not in ids(open_page(sheets.answered(EVEN), javascript=False).page)
    page = open_page(sheets.answered(UNEVEN), javascript=False).page
    assert ids(page)[0] == "trouble", "first of all"
    text = page.inner_text("#trouble")
    assert "tick" in text
    assert page.locator("#trouble a.cells").count() > 0, "it points to the place"


def test_answers_stand_on_the_page_with_their_counterexample(sheets: Sheets, open_page: Opener) -> None:
    page = open_page(sheets.answered(UNEVEN), javascript=False).page
    page.locator("#shown details > summary").first.click()
    rows = page.locator("#shown tbody tr")
    assert rows.count() == 4, "the same answer under two handovers is one row"
    assert "8, 7" in rows.first.inner_text()
    assert rows.last.locator("a.cells").count() > 0, "where the counterexample goes wrong"


@pytest.mark.parametrize("width", WIDTHS)
def test_no_scrolling_in_two_directions(sheet: Path, open_page: Opener, width: int) -> None:
    page = open_page(sheet, width=width).page
    assert width_faults(page) == []
    page.evaluate("() => { for (const one of document.querySelectorAll('details')) one.open = true; }")
    assert width_faults(page) == []


@pytest.mark.parametrize("width", WIDTHS)
def test_accessibility_checker_finds_nothing_serious(sheet: Path, open_page: Opener, width: int) -> None:
    assert axe_violations(open_page(sheet, width=width).page) == []


@pytest.mark.parametrize("javascript", [True, False], ids=["with scripts", "without"])
def test_keyboard_reaches_everything(sheets: Sheets, open_page: Opener, javascript: bool) -> None:
    page = open_page(sheets.answered(EVEN), javascript=javascript).page
    assert keyboard_faults(page) == []


def test_html_and_all_in_it_conforms(sheets: Sheets) -> None:
    made = [sheets.answered(EVEN), sheets.answered(UNEVEN)]
    for path in made:
        assert html_faults(path.read_text(encoding="utf-8")) == []
    assert nu_faults(*made) == []


def test_every_sentence_points_to_parts_that_are_there(sheet: Path, open_page: Opener) -> None:
    page = open_page(sheet, javascript=False).page
    lost = page.evaluate(
        "() => [...document.querySelectorAll('a[href^=\"#\"]')].map((one) => one.getAttribute('href'))"
        ".filter((address) => !document.getElementById(address.slice(1)))"
    )
    assert lost == []
    twice = page.evaluate(
        "() => { const ids = [...document.querySelectorAll('[id]')].map((one) => one.id);"
        " return ids.filter((id, index) => ids.indexOf(id) !== index); }"
    )
    assert twice == []


def test_contents_lead_to_each_section(sheet: Path, open_page: Opener) -> None:
    page = open_page(sheet).page
    links = page.locator("nav").first.locator("a")
    targets = [links.nth(number).get_attribute("href") for number in range(links.count())]
    assert targets == [f"#{id}" for id in ids(page)]


def test_skip_link_leads_past_the_head(sheet: Path, open_page: Opener) -> None:
    page = open_page(sheet).page
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("() => document.activeElement.id") == "main"
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.querySelector('main').contains(document.activeElement)")
