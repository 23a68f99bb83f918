"""The documentation as a site, in a browser: quiet, offline, by keyboard, for any width; every link followed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from browser.checks import axe_violations, html_faults, keyboard_faults, nu_faults, width_faults
from browser.needs import REPOSITORY
from browser.opened import Opener

SAMPLE = (
    "index",
    "tutorial",
    "howto/mend",
    "rulebook",
    "schemes",
    "reference/commands/propose",
    "reference/documents/hall",
)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built as `make docs` does it."""
    folder, docs = tmp_path_factory.mktemp("site"), REPOSITORY / "docs"
    words = ["-q", "-W", "-c", str(docs / "site"), "-d", str(folder / "trees"), str(docs), str(folder / "html")]
    subprocess.run([sys.executable, "-m", "sphinx", *words], check=True)
    return folder / "html"


def test_every_link_is_followed_and_every_page_is_quiet(site: Path, open_page: Opener) -> None:
    """Each page is opened once; each link on it leads to a page or a place that is there."""
    opened = open_page(site / "index.html")
    own, due, reached = site.as_uri(), [(site / "index.html").as_uri()], dict[str, set[str]]()
    asked: list[tuple[str, str]] = []
    while due:
        address = due.pop()
        if address in reached:
            continue
        opened.page.goto(address)
        reached[address] = set(
            opened.page.evaluate("() => [...document.querySelectorAll('[id]')].map((one) => one.id)")
        )
        links: list[str] = opened.page.evaluate(
            "() => [...document.querySelectorAll('a[href]')].map((one) => one.href)"
        )
        for link in links:
            file, _, part = link.partition("#")
            if file.startswith("https://"):  # for the reader to follow; tests ask nothing of a network
                continue
            assert file.startswith(own), (address, link)
            if file.endswith(".html"):
                due.append(file)
                asked.append((file, part))
            else:
                assert Path(file.removeprefix("file://")).is_file(), (address, link)
    assert len(reached) > 50
    assert [(file, part) for file, part in asked if part and part not in reached[file]] == []
    assert opened.complaints == []
    assert [one for one in opened.requests if not one.startswith(own)] == []


@pytest.mark.parametrize("width", [320, 1280])
def test_any_width_any_reader(site: Path, open_page: Opener, width: int) -> None:
    for name in SAMPLE:
        page = open_page(site / f"{name}.html", width=width).page
        assert width_faults(page) == [], name
        assert axe_violations(page) == [], name


def test_keyboard(site: Path, open_page: Opener) -> None:
    for name in ("index", "howto/mend", "reference/commands/propose"):
        assert keyboard_faults(open_page(site / f"{name}.html").page) == [], name


def test_a_word_is_found_without_a_network(site: Path, open_page: Opener) -> None:
    opened = open_page(site / "index.html")
    opened.page.fill("input[name=q]", "overheats")
    opened.page.press("input[name=q]", "Enter")
    opened.page.wait_for_selector("#search-results li a")
    assert opened.page.locator("#search-results li a").count() > 0
    assert opened.complaints == []
    assert axe_violations(opened.page) == []


def test_pages_conform(site: Path) -> None:
    paths = sorted(site.rglob("*.html"))
    assert {path.name: faults for path in paths if (faults := html_faults(path.read_text(encoding="utf-8")))} == {}
    assert nu_faults(*paths) == []
