"""The sheet on paper: PDFs read back, by pypdf."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from browser.needs import needed_browser
from browser.opened import Opener
from browser.paper import layers_between, page_with, texts_of
from browser.sheets import Sheets
from commands import LAYOUTS, document, run
from sim.world.files.reading import load_layout
from splitwright.commands.sheet.printing import html_to_pdf

PLAN, LOW_PLAN = "burst-row-of-three", "row-of-three-unlocked"
CAUTION = "no guide to real kilns"


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """The text of each page of ``sheet --pdf``."""
    needed_browser()
    folder = tmp_path_factory.mktemp("printed")
    plan, html, pdf = LAYOUTS / f"{PLAN}.plan", folder / "sheet.html", folder / "sheet.pdf"
    result = run("sheet", str(plan), "--out", str(html), "--pdf", str(pdf), "--time-limit", "0", "--json")
    assert result.exit_code == 0, result.stderr
    told = {entry["path"]: entry["bytes"] for entry in document(result, "splitwright-sheet-1")["files"]}
    assert told == {str(path): path.stat().st_size for path in (html, pdf)}
    return texts_of(pdf)


def assert_a_page_each(plan: str, printed: list[str]) -> None:
    """Every layer has a page, no page two, and on it stands each part with its code from the plan file."""
    found = layers_between("Layer plans", "Build order", printed)
    layers = re.split(r"layer \d+", (LAYOUTS / f"{plan}.plan").read_text(encoding="utf-8").partition("layer 0")[2])
    assert [layer for _, layer in found] == list(range(len(layers)))
    pages = [page for page, _ in found]
    assert len(set(pages)) == len(layers)
    for page, layer in zip(pages, layers, strict=True):
        codes = Counter(code for code in layer.split() if code != ".")
        drawn = {code: printed[page].count(code) for code in codes}
        assert all(drawn[code] >= count for code, count in codes.items())


def test_every_layer_has_a_page_of_its_own(printed: list[str]) -> None:
    assert_a_page_each(PLAN, printed)


def test_low_plans_do_not_share_a_page(sheets: Sheets, tmp_path: Path) -> None:
    needed_browser()
    html_to_pdf(sheets.of(LOW_PLAN, "--time-limit", "0"), tmp_path / "low.pdf")
    assert_a_page_each(LOW_PLAN, texts_of(tmp_path / "low.pdf"))


def test_what_a_builder_needs_is_on_paper(printed: list[str]) -> None:
    whole = " ".join(" ".join(printed).split())
    for heading in ("What is shown of it", "Parts list", "Build order", "How it works", "Signs on the plans"):
        page_with(heading, printed)
    assert CAUTION in whole
    assert "Three kilns, even for a burst of clay" in whole
    layout = load_layout(LAYOUTS / f"{PLAN}.plan")
    supports = sum(part.kind == "support" for part in layout.parts)
    assert re.search(rf"supports\s+{supports}\b", whole)


def test_print_leaves_out_what_only_works_on_a_screen(sheets: Sheets, open_page: Opener) -> None:
    page = open_page(sheets.of(PLAN, "--time-limit", "0"), media="print").page
    shown = page.evaluate(
        "() => [...document.querySelectorAll('button, nav, select, input[type=range]')]"
        ".filter((one) => one.checkVisibility()).map((one) => one.outerHTML)"
    )
    assert shown == []


def test_plans_fit_on_paper(sheets: Sheets, open_page: Opener) -> None:
    """Printed by the browser at the size that it gives a sheet, nothing is cut off at the right."""
    width = round((210 - 2 * 14) / 25.4 * 96)  # A4 less the margins that sheet.css sets, in CSS pixels (96 to the inch)
    page = open_page(sheets.of(PLAN, "--time-limit", "0"), media="print", width=width).page
    cut = page.evaluate(
        "(width) => [...document.querySelectorAll('svg, table, figure')].filter((one) => one.checkVisibility() &&"
        " one.getBoundingClientRect().right > width + 1).map((one) => one.outerHTML.slice(0, 200))",
        width,
    )
    assert cut == []


def test_page_is_not_written_when_no_browser_prints_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SPLITWRIGHT_BROWSER", str(tmp_path / "none"))
    pdf = tmp_path / "a.pdf"
    result = run("sheet", str(LAYOUTS / f"{PLAN}.plan"), "--out", str(tmp_path / "a.html"), "--pdf", str(pdf),
                 "--time-limit", "0")  # fmt: skip
    assert result.exit_code == 2
    assert not pdf.exists()
