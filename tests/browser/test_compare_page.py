"""The page that sets layouts side by side, in a browser: quiet, for any width and the keyboard; its table sorts."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page
from pypdf import PdfReader

from browser.checks import axe_violations, html_faults, keyboard_faults, nu_faults, width_faults
from browser.needs import needed_browser
from browser.opened import Opener
from commands import LAYOUTS, REPOSITORY, document, run
from sim.world.files.layout_json import layout_to_json
from sim.world.files.reading import load_layout
from splitwright.commands.sheet.printing import html_to_pdf

NAMES = ("burst-row-of-three", "burst-row-of-three-one-relay-more", "row-of-three-unlocked", "row-of-three-locked",
         "row-of-three-no-drain")  # fmt: skip
SMALLEST = REPOSITORY / "specs" / "results" / "three-kilns-smallest.json"
FILES = (*(str(LAYOUTS / f"{name}.plan") for name in NAMES), str(SMALLEST))
WIDTHS = (320, 1280)


@pytest.fixture(scope="module")
def compared(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    """A page of six layouts, and the document that tells the same."""
    page = tmp_path_factory.mktemp("compare") / "page.html"
    return page, document(run("compare", *FILES, "--out", str(page), "--json"), "splitwright-compare-1")


def column(page: Page, name: str) -> list[str]:
    found: list[str] = page.evaluate(
        "name => [...document.querySelectorAll(`tbody td[data-column='${name}']`)].map((cell) => cell.dataset.key)",
        name,
    )
    return found


def numbers(page: Page) -> list[int]:
    rows = page.evaluate("() => [...document.querySelectorAll('tbody tr')].map((row) => Number(row.dataset.number))")
    return list(rows)


def sorted_headings(page: Page) -> dict[str, str]:
    found: dict[str, str] = page.evaluate(
        "() => Object.fromEntries([...document.querySelectorAll('th[aria-sort]')]"
        ".map((one) => [one.textContent.trim(), one.getAttribute('aria-sort')]))"
    )
    return found


@pytest.mark.parametrize("javascript", [True, False])
def test_page_is_quiet_and_asks_for_nothing(
    compared: tuple[Path, dict[str, Any]], open_page: Opener, javascript: bool
) -> None:
    opened = open_page(compared[0], javascript=javascript)
    assert opened.page.locator("svg.scatter:not(.sign)").count() == 3
    opened.assert_quiet()


@pytest.mark.parametrize("width", WIDTHS)
def test_any_width_any_reader(compared: tuple[Path, dict[str, Any]], open_page: Opener, width: int) -> None:
    page = open_page(compared[0], width=width).page
    assert width_faults(page) == []
    assert axe_violations(page) == []


@pytest.mark.parametrize("width", [360, 1280])
def test_a_word_wider_than_the_page_is_broken(open_page: Opener, tmp_path: Path, width: int) -> None:
    """A title and a stream's name of 300 letters without a blank, on two layouts; by the real width of the document."""
    made = layout_to_json(load_layout(FILES[0]))
    made["title"], made["streams"][0]["name"] = "k" * 300, "f" * 300
    path, out = tmp_path / "long.json", tmp_path / "page.html"
    path.write_text(json.dumps(made), encoding="utf-8")
    assert run("compare", str(path), FILES[1], "--out", str(out)).exit_code == 0
    page = open_page(out, width=width).page
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    assert width_faults(page) == []


def test_keyboard_reaches_everything(compared: tuple[Path, dict[str, Any]], open_page: Opener) -> None:
    assert keyboard_faults(open_page(compared[0]).page) == []


def test_conformance(compared: tuple[Path, dict[str, Any]]) -> None:
    assert html_faults(compared[0].read_text(encoding="utf-8")) == []
    assert nu_faults(compared[0]) == []


def test_without_javascript_the_table_stands_by_rank(compared: tuple[Path, dict[str, Any]], open_page: Opener) -> None:
    page = open_page(compared[0], javascript=False).page
    assert numbers(page) == [1, 2, 3, 4, 5, 6]
    assert page.locator("button").count() == 0, "no button that does nothing"
    assert page.locator(".sorting-hint").is_hidden()


@pytest.mark.parametrize("name", ["volume", "parts", "latency", "throughput", "steady", "held", "handover-8", "front"])
def test_columns_sort_both_ways(compared: tuple[Path, dict[str, Any]], open_page: Opener, name: str) -> None:
    """What is not known stands last, those that are alike stand by rank."""
    page = open_page(compared[0]).page
    heading = page.locator(f"th[data-column='{name}']")
    ranks = dict(zip(numbers(page), column(page, name), strict=True))
    known = [number for number, key in ranks.items() if key != ""]
    unknown = [number for number, key in ranks.items() if key == ""]
    for direction in ("ascending", "descending", "ascending"):
        heading.get_by_role("button").press("Enter")
        sign = 1 if direction == "ascending" else -1
        assert numbers(page) == [*sorted(known, key=lambda n: (sign * float(ranks[n]), n)), *unknown]
        assert list(sorted_headings(page).values()) == [direction]
        assert heading.get_attribute("aria-sort") == direction


def test_titles_sort_as_text_and_rank_brings_the_order_back(
    compared: tuple[Path, dict[str, Any]], open_page: Opener
) -> None:
    page = open_page(compared[0]).page
    titles = {one["number"]: one["title"] for one in compared[1]["layouts"]}
    page.get_by_role("button", name="Layout").click()
    assert [titles[n] for n in numbers(page)] == sorted(titles.values(), key=str.casefold)
    assert sorted_headings(page) == {"Layout": "ascending"}
    page.get_by_role("button", name="Rank").press("Space")
    assert numbers(page) == [1, 2, 3, 4, 5, 6]


def test_numbers_lead_to_cards(compared: tuple[Path, dict[str, Any]], open_page: Opener) -> None:
    page = open_page(compared[0]).page
    page.locator(".standings a").nth(2).click()
    assert page.evaluate("() => document.querySelector(':target').id") == "layout-3"


def test_on_paper_every_layer_shows_and_no_button(
    compared: tuple[Path, dict[str, Any]], open_page: Opener, tmp_path: Path
) -> None:
    needed_browser()
    page = open_page(compared[0], media="print").page
    look = page.evaluate(
        "() => [...document.querySelectorAll('th > button')].map((one) => getComputedStyle(one))"
        ".map((style) => [style.borderTopWidth, style.backgroundColor])"
    )
    assert {json.dumps(one) for one in look} == {'["0px", "rgba(0, 0, 0, 0)"]'}
    assert width_faults(page) == []
    pdf = tmp_path / "page.pdf"
    html_to_pdf(compared[0], pdf)
    pages = PdfReader(pdf).pages
    assert all(one.mediabox.width > one.mediabox.height for one in pages), "side by side: landscape"
    text = "\n".join(one.extract_text() for one in pages)
    heights = [one["measures"]["height"] for one in compared[1]["layouts"]]
    assert text.count("Layer 0") == len(heights)
    assert text.count("Layer 3") == sum(height > 3 for height in heights)
    assert "no guide to real kilns" in text
    assert "buttons" not in text
    for one in compared[1]["layouts"]:
        assert f"{one['number']}. {one['title']}" in " ".join(text.split())
