"""A sheet whose every name and phrase holds markup or a script: all of it stays text.

Compared with the sheet of the same layout with names of the same length that mean nothing to a browser: the two pages
must be made of the same elements with the same attributes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page

from browser.checks import html_faults, nu_faults
from browser.hostile import PAYLOADS, blunt, sharp, write_hostile
from browser.opened import Opened, Opener
from browser.sheets import Sheets, document_of
from splitwright.commands.sheet.printing import html_to_pdf

SKELETON = """() => [...document.querySelectorAll("*")].map(
    (one) => one.localName + " " + [...one.attributes].map((named) => named.name).sort().join(" "))"""
ADDRESSES = """() => [...document.querySelectorAll("*")].flatMap((one) => [...one.attributes]
    .filter((named) => /^(xlink:)?href$|^src|^action$|^on/.test(named.name)).map((named) => named.value))"""
TOUCHED = """() => {
    const boxes = [...document.querySelectorAll("input[type=checkbox], input[type=radio]")];
    const buttons = [...document.querySelectorAll("button:not(:disabled), summary")];
    for (const one of [...buttons, ...boxes, ...buttons]) one.click();
    for (const one of document.querySelectorAll("input[type=range]")) {
        one.value = one.max;
        for (const kind of ["input", "change"]) one.dispatchEvent(new Event(kind, { bubbles: true }));
    }
    for (const one of document.querySelectorAll("select")) {
        one.selectedIndex = one.options.length - 1;
        one.dispatchEvent(new Event("change", { bubbles: true }));
    }
    for (const one of document.querySelectorAll("a, .part")) {
        for (const kind of ["pointerenter", "pointerover", "focus"]) one.dispatchEvent(new Event(kind));
    }
}"""
"""Every control is used, every sentence and part pointed at, so that scripts that show names late show them all."""


@pytest.fixture
def sheet_with(sheets: Sheets) -> Callable[..., Path]:
    """A sheet with names of that edge, in the layout alone or in a labels file too."""

    def made(edge: Callable[[str], str], labelled: bool) -> Path:
        plan, labels = write_hostile(sheets.folder, document_of("burst-row-of-three"), edge)
        more = ("--labels", str(labels)) if labelled else ()
        return sheets.of(plan, "--time-limit", "0", *more)

    return made


def used(opened: Opened) -> Page:
    page = opened.page
    page.evaluate(TOUCHED)
    page.wait_for_timeout(300)
    return page


@pytest.mark.parametrize("labelled", [False, True], ids=["layout", "labels too"])
def test_nothing_that_a_name_holds_comes_to_life(
    sheet_with: Callable[..., Path], open_page: Opener, labelled: bool
) -> None:
    opened, tame = open_page(sheet_with(sharp, labelled)), open_page(sheet_with(blunt, labelled))
    page, tame_page = used(opened), used(tame)
    assert page.title() == " ".join(" ".join(PAYLOADS).split(" ")), "shown, and never set by what it says"
    opened.assert_quiet()
    tame.assert_quiet()
    assert Counter(page.evaluate(SKELETON)) == Counter(tame_page.evaluate(SKELETON))
    assert all(address.startswith("#") for address in page.evaluate(ADDRESSES))
    assert page.url.partition("#")[0] == sheet_with(sharp, labelled).as_uri()


def test_page_would_not_run_or_load_what_came_in_all_the_same(sheets: Sheets, open_page: Opener) -> None:
    """A second lock behind the first one: the page's own policy."""
    opened = open_page(sheets.of("burst-row-of-three", "--time-limit", "0"))
    title = opened.page.title()
    opened.page.evaluate(
        """() => {
            const script = document.createElement("script");
            script.textContent = "document.title = 'hit'";
            const image = document.createElement("img");
            image.setAttribute("onerror", "document.title = 'hit'");
            image.src = "near.png";
            document.body.append(script, image);
        }"""
    )
    due = {"inline script", "inline event handler", "near.png"}
    for _ in range(100):
        refused = [line for line in opened.complaints if "violates the following Content Security Policy" in line]
        if {what for what in due if any(what in line for line in refused)} == due:
            break
        opened.page.wait_for_timeout(100)
    else:
        pytest.fail(f"not all was refused: {opened.complaints}")
    assert opened.page.title() == title


def test_names_are_there_to_be_read(sheet_with: Callable[..., Path], open_page: Opener) -> None:
    text = open_page(sheet_with(sharp, True)).page.inner_text("body")
    unread = [payload for payload in PAYLOADS if " ".join(payload[:50].split(" ")) not in text]
    assert unread == []


def test_page_of_hostile_names_is_well_formed(sheet_with: Callable[..., Path]) -> None:
    path = sheet_with(sharp, True)
    assert html_faults(path.read_text(encoding="utf-8")) == []
    assert nu_faults(path) == []


def test_printing_hostile_names_is_safe(sheet_with: Callable[..., Path], tmp_path: Path) -> None:
    html_to_pdf(sheet_with(sharp, True), tmp_path / "sheet.pdf")
    raw = (tmp_path / "sheet.pdf").read_bytes()
    assert b"/JavaScript" not in raw
    assert b"/URI (javascript" not in raw
