"""Each check finds what it is there to find, and finds nothing where there is nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page

from browser.checks import axe_violations, html_faults, keyboard_faults, nu_faults, svg_faults, tab_stops, width_faults
from browser.needs import needed_browser, needed_nu
from browser.opened import Opener

HEAD = (
    '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>Kilns</title>'
    '<meta name="viewport" content="width=device-width, initial-scale=1">'
    "<style>{}</style></head><body><main><h1>Kilns</h1>"
)
GOOD = """
<p><a href="#shed">To the shed</a></p>
<form><fieldset><legend>Layers</legend>
<label><input type="radio" name="layer" checked> lower</label> <label><input type="radio" name="layer"> upper</label>
</fieldset><label>Tick <input type="range" min="0" max="9"></label>
<label>Kind <select><option>clay</option></select></label> <button type="button">Play</button>
<button type="button" disabled>Not now</button></form>
<details><summary>More</summary><p><a href="#shed">hidden until opened</a></p></details>
<div tabindex="0" role="region" aria-label="Plans" style="overflow-x: auto"><p style="width: 3000px">wide</p></div>
<h2 id="shed">Shed</h2><p>Charcoal is dry.</p>
<svg role="img" aria-label="kiln" viewBox="0 0 1 1" width="40"><rect data-cell="1,0,2" width="1" height="1"/></svg>
"""


def page_with(tmp_path: Path, body: str, style: str = "") -> Path:
    path = tmp_path / "page.html"
    path.write_text(HEAD.replace("{}", style) + body + "</main></body></html>\n", encoding="utf-8")
    return path


@pytest.fixture
def shown(tmp_path: Path, open_page: Opener) -> Page:
    """The good page."""
    page: Page = open_page(page_with(tmp_path, GOOD)).page
    return page


def test_nothing_is_found_on_a_good_page(tmp_path: Path, shown: Page) -> None:
    assert axe_violations(shown, ("minor", "moderate", "serious", "critical")) == []
    assert keyboard_faults(shown) == []
    assert width_faults(shown) == []
    assert html_faults((tmp_path / "page.html").read_text()) == []


def test_tab_goes_through_a_page_in_its_order(shown: Page) -> None:
    names = [stop["name"].partition(">")[0][1:] for stop in tab_stops(shown)]
    assert names == ["a", "input", "input", "select", "button", "summary", "div"]
    assert len({stop["number"] for stop in tab_stops(shown)}) == 7, "a second walk begins at the top again"


def test_axe_finds(tmp_path: Path, open_page: Opener) -> None:
    body = """<p style="color: #bbb">pale</p><input type="text"><button type="button"></button>
        <svg role="img" viewBox="0 0 1 1"></svg><p>
        <button type="button" class="tiny" aria-label="a"></button><button type="button" class="tiny" aria-label="b">
        </button></p>"""
    path = page_with(tmp_path, body, ".tiny { width: 9px; height: 9px; padding: 0; border: 0 }")
    found = {line.partition(":")[0] for line in axe_violations(open_page(path).page)}
    assert found == {
        "serious color-contrast", "critical label", "critical button-name", "serious svg-img-alt",
        "serious target-size",
    }  # fmt: skip


def test_axe_runs_on_a_page_that_admits_no_foreign_script(tmp_path: Path, open_page: Opener) -> None:
    policy = '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'">'
    path = page_with(tmp_path, "<button></button>")
    path.write_text(path.read_text().replace('<meta charset="utf-8">', f'<meta charset="utf-8">{policy}'))
    assert [line for line in axe_violations(open_page(path).page) if "button-name" in line]


@pytest.mark.parametrize(
    ("body", "style", "fault"),
    [
        ('<button type="button" tabindex="-1">Play</button>', "", 'not reached: <button>  "Play"'),
        ('<div tabindex="0">Kiln</div>', "div:focus { outline: none }", 'focus is not to be seen: <div>  "Kiln"'),
        (
            '<a href="#a">Kiln</a><p class="over">Shed</p>', ".over { position: fixed; inset: 0; background: white }",
            'focus is covered: <a>  "Kiln"',
        ),
        ('<a href="#a">Kiln</a>', "a { outline: 2px solid red }", 'focus is not to be seen: <a>  "Kiln"'),
        (
            '<button id="a">Kiln</button><script>document.getElementById("a").addEventListener("keydown",'
            'event => event.preventDefault())</script>',
            "", 'does not let go: <button#a>  "Kiln"',
        ),
    ],
)  # fmt: skip
def test_keyboard_walk_finds(tmp_path: Path, open_page: Opener, body: str, style: str, fault: str) -> None:
    assert keyboard_faults(open_page(page_with(tmp_path, body, style)).page) == [fault]


def test_focus_may_be_shown_by_a_label_or_a_shadow(tmp_path: Path, open_page: Opener) -> None:
    body = '<input type="checkbox" id="a"><label for="a">Kiln</label><p><a href="#a">Shed</a></p>'
    style = "input { opacity: 0 } :focus { outline: none } input:focus + label { outline: 2px solid } "
    path = page_with(tmp_path, body, style + "a:focus { box-shadow: 0 0 0 2px black }")
    assert keyboard_faults(open_page(path).page) == []


def test_width_of_a_page(tmp_path: Path, open_page: Opener) -> None:
    path = page_with(tmp_path, '<p id="wide" style="width: 500px">wide</p>')
    assert width_faults(open_page(path, width=1280).page) == []
    (found,) = width_faults(open_page(path, width=320).page)
    assert found.startswith('<p#wide>  "wide" reaches to 508')


def test_html_faults_are_found() -> None:
    (found,) = html_faults(HEAD + "<p>one</section></p></main></body></html>")
    assert found == f"line 1, column {len(HEAD + '<p>one</section>')}: end-tag-too-early {{'name': 'section'}}"


def test_nu_finds_faults_in_pages(tmp_path: Path) -> None:
    good = page_with(tmp_path, GOOD.replace(" style=", " data-style="), "text { paint-order: stroke }")
    bad = tmp_path / "bad.html"
    bad.write_text(HEAD + '<svg><rectt/></svg><p style="colr: red"><img src="data:,"></p></main></body></html>')
    found = nu_faults(good, bad)
    assert {line.partition(",")[0] for line in found} == {"bad.html"}
    assert [any(word in line for line in found) for word in ("rectt", "colr", "“alt”")] == [True] * 3


def test_nu_finds_faults_in_svg_files(tmp_path: Path) -> None:
    good, bad = tmp_path / "good.svg", tmp_path / "bad.svg"
    svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"><title>Kiln</title>{}</svg>'
    good.write_text(svg.format('<g data-cell="1,0,2"><rect class="k-node" width="1" height="1"/></g>'))
    bad.write_text(svg.format('<rect widht="1"/>'))
    (found,) = svg_faults(good, bad)
    assert found.startswith("bad.svg, line 1: Attribute “widht” not allowed on element “rect”")


def test_what_a_page_complains_of_and_asks_for_is_kept(tmp_path: Path, open_page: Opener) -> None:
    body = """<img src="http://kiln.invalid/a.png" alt=""><img src="near.png" alt=""><img src="data:," alt="">
        <script>console.error("smoke"); console.log("fine"); alert("hit"); throw new Error("cold");</script>"""
    opened = open_page(page_with(tmp_path, body))
    assert sorted(opened.requests) == [(tmp_path / "near.png").as_uri(), "http://kiln.invalid/a.png"]
    for word in ("error: smoke", "alert: hit", "cold"):
        assert any(word in line for line in opened.complaints), word
    assert not any("fine" in line for line in opened.complaints)
    assert open_page(page_with(tmp_path, body), javascript=False).complaints != opened.complaints


def test_page_without_scripts_runs_none(tmp_path: Path, open_page: Opener) -> None:
    path = page_with(tmp_path, "<script>document.title = 'ran'</script>")
    assert open_page(path).page.title() == "ran"
    assert open_page(path, javascript=False).page.title() == "Kilns"


def test_media_and_motion_as_asked(tmp_path: Path, open_page: Opener) -> None:
    path = page_with(tmp_path, "<p>a</p>")
    asks = "() => [matchMedia('print').matches, matchMedia('(prefers-reduced-motion: reduce)').matches, innerWidth]"
    assert open_page(path).page.evaluate(asks) == [False, False, 1280]
    page = open_page(path, media="print", reduced_motion="reduce", width=320).page
    assert page.evaluate(asks) == [True, True, 320]


@pytest.mark.parametrize(("needed", "what"), [(needed_browser, "BROWSER"), (needed_nu, "NU")])
def test_what_is_missing_is_skipped_unless_the_build_demands_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, needed: Callable[[], object], what: str
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("SPLITWRIGHT_BROWSER", raising=False)
    monkeypatch.setenv(f"SPLITWRIGHT_REQUIRE_{what}", "0")
    with pytest.raises(pytest.skip.Exception, match="found no"):
        needed()
    monkeypatch.setenv(f"SPLITWRIGHT_REQUIRE_{what}", "1")
    with pytest.raises(pytest.fail.Exception, match="found no"):
        needed()


def test_checker_that_is_not_there_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "java").write_text("#!/bin/sh\n")
    (tmp_path / "java").chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("SPLITWRIGHT_NU_JAR", str(tmp_path / "none.jar"))
    monkeypatch.setenv("SPLITWRIGHT_REQUIRE_NU", "1")
    with pytest.raises(pytest.fail.Exception, match=r"found no Nu checker at .*none\.jar: npm install"):
        needed_nu()
