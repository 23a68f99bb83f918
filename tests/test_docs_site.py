"""The documentation as a site: nothing left out, every command run, every link good, nothing fetched from elsewhere."""

from __future__ import annotations

import importlib.util
import json
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from types import ModuleType
from typing import Any
from urllib.parse import unquote

import pytest
import typer.main

from commands import LAYOUTS, run
from sim.datafiles import data_dir
from sim.world.files.plan_cells import CODES
from sim.world.rulebook import DEFAULT_RULEBOOK, load_rulebook
from splitwright.app import COMMANDS, app

REPOSITORY = Path(__file__).resolve().parent.parent
DOCS = REPOSITORY / "docs"
HOW_TO = sorted((DOCS / "howto").glob("*.md"))
ROW = str(LAYOUTS / "burst-row-of-two.plan")
README_MOST = 150


@pytest.fixture(scope="module")
def pages() -> Iterator[dict[str, str]]:
    """The reference pages as they are made now."""
    sys.path.insert(0, str(DOCS / "site"))
    try:
        yield importlib.import_module("reference").reference_pages()
    finally:
        sys.path.remove(str(DOCS / "site"))


@pytest.fixture(scope="module")
def steps() -> ModuleType:
    spec = importlib.util.spec_from_file_location("tutorial_steps", DOCS / "tutorial_steps.py")
    assert spec is not None
    assert spec.loader is not None
    module = sys.modules["tutorial_steps"] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built as `make docs` does it: a warning is an error."""
    folder = tmp_path_factory.mktemp("site")
    words = ["-q", "-W", "--keep-going", "-c", str(DOCS / "site"), "-d", str(folder / "trees"), str(DOCS)]
    built = subprocess.run(
        [sys.executable, "-m", "sphinx", *words, str(folder / "html")], capture_output=True, text=True, check=False
    )
    assert (built.returncode, built.stderr) == (0, "")
    return folder / "html"


# -- nothing left out -------------------------------------------------------------------------------------------------


def test_every_command_has_a_page_with_all_its_options(pages: dict[str, str]) -> None:
    for name in COMMANDS:
        page = pages[f"commands/{name}.md"]
        for one in typer.main.get_command(app).get_command(None, name).params:  # type: ignore[attr-defined]
            shown = one.opts if one.param_type_name == "option" else [one.metavar]
            assert [word for word in shown if f"`{word}`" not in page] == [], name


def test_every_schema_has_a_page_with_all_its_names(pages: dict[str, str]) -> None:
    for path in data_dir("schema").glob("*.json"):
        page = pages[f"documents/{path.stem.removeprefix('splitwright-').removesuffix('-1')}.md"]
        names = set(properties(json.loads(path.read_text(encoding="utf-8"))))
        assert names
        assert {name for name in names if f"| `{name}` |" not in page} == set(), path.stem


def properties(schema: Any) -> Iterator[str]:
    """Names of all fields, however deep."""
    if isinstance(schema, dict):
        if isinstance(schema.get("properties"), dict):
            yield from schema["properties"]
        for one in schema.values():
            yield from properties(one)
    elif isinstance(schema, list):
        for one in schema:
            yield from properties(one)


def test_every_document_is_a_file_or_printed_by_a_command(pages: dict[str, str]) -> None:
    for path in data_dir("schema").glob("*.json"):
        name = path.stem.removeprefix("splitwright-").removesuffix("-1")
        page = pages[f"documents/{name}.md"]
        assert "Printed by `splitwright" in page or "\nThis is " in page, name


@pytest.mark.parametrize(
    "words", [("trial", ROW), ("check", ROW), ("draw", ROW), ("laws",), ("size", "--output", "5000"), ("probe",)]
)
def test_what_a_command_prints_is_what_its_page_says(words: tuple[str, ...], pages: dict[str, str]) -> None:
    named = json.loads(run(*words, "--json").stdout)["format"].removeprefix("splitwright-").removesuffix("/1")
    assert f"(../documents/{named}.md)" in pages[f"commands/{words[0]}.md"]


def test_every_number_sign_and_example_is_listed(pages: dict[str, str]) -> None:
    for entry in load_rulebook(DEFAULT_RULEBOOK).entries:
        assert f"| `{entry.name}` | {entry.value} | {entry.provenance} |" in pages["numbers.md"]
    assert [code for code in CODES if f"| `{code}` |" not in pages["signs.md"]] == []
    for path in (*(REPOSITORY / "specs").glob("*.toml"), *LAYOUTS.glob("*.plan")):
        assert f"`{path.relative_to(REPOSITORY)}`" in pages["examples.md"]


def test_code_that_the_rulebook_points_to_is_there() -> None:
    named = re.findall(r"\| `(sim\.[\w.]+)` \|", (DOCS / "rulebook.md").read_text(encoding="utf-8"))
    assert len(named) > 10
    for name in named:
        module, _, member = name.rpartition(".")
        assert hasattr(importlib.import_module(module), member), name


# -- every command run ------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("path", HOW_TO, ids=lambda path: path.stem)
def test_a_how_to_page_is_true(path: Path, steps: ModuleType, tmp_path: Path) -> None:
    page, folder = path.read_text(encoding="utf-8"), tmp_path / "clone"
    folder.mkdir()
    (tmp_path / "tools").mkdir()
    done = steps.walk(page, folder, tmp_path / "tools")
    assert done.ran
    assert [(one.command, one.printed) for one in done.ran if one.status != one.due] == []
    assert steps.refreshed(page, done) == page, "run: make tutorial"


# -- the pages as they are built --------------------------------------------------------------------------------------


class Page(HTMLParser):
    """Ids, links, and what the page would load."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: set[str] = set()
        self.links: list[str] = []
        self.loads: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name == "id" and value:
                self.ids.add(value)
            elif name == "href" and value is not None and tag == "a":
                self.links.append(value)
            elif name in ("src", "href", "srcset", "action", "data", "poster") and value is not None:
                self.loads.append(value)


@pytest.mark.slow
def test_links_lead_somewhere_and_nothing_comes_from_elsewhere(site: Path) -> None:
    read = {path: Page(path.read_text(encoding="utf-8")) for path in site.rglob("*.html")}
    assert len(read) > 50
    for path, page in read.items():
        inward = [link for link in page.links if not link.startswith("https://")]  # others are followed, not loaded
        for link in (*inward, *page.loads):
            assert not re.match(r"(?:\w+:)?//|\w+:", link), (path.name, link)
            file, _, part = link.partition("#")
            target = (path.parent / unquote(file)).resolve() if file else path
            assert target.is_file(), (path.name, link)
            assert not part or target not in read or unquote(part) in read[target].ids, (path.name, link)
    for style in site.rglob("*.css"):
        assert not re.search(r"@import|url\((?!data:)", style.read_text(encoding="utf-8")), style.name


@pytest.mark.slow
def test_every_page_is_reached_and_holds_the_caution(site: Path, pages: dict[str, str]) -> None:
    top = Page((site / "index.html").read_text(encoding="utf-8"))
    reached, due = set(), [site / "index.html"]
    while due:
        path = due.pop()
        if path not in reached and path.suffix == ".html":
            reached.add(path)
            links = Page(path.read_text(encoding="utf-8")).links
            due += [(path.parent / link.partition("#")[0]).resolve() for link in links if link.partition("#")[0]]
    assert top.links
    assert {site / "reference" / name.replace(".md", ".html") for name in pages} <= reached
    assert all("no guide to real kilns" in path.read_text(encoding="utf-8") for path in reached)


# -- the README -------------------------------------------------------------------------------------------------------


def test_the_readme_is_short_and_its_links_resolve() -> None:
    text = (REPOSITORY / "README.md").read_text(encoding="utf-8")
    assert len(text.splitlines()) < README_MOST
    assert "no guide to real kilns" in text
    for link in re.findall(r"\]\(([^)#\s]+)\)", text):
        assert (REPOSITORY / link).is_file(), link
    for name in re.findall(r"`splitwright (\w+)", text):
        assert name in COMMANDS


@pytest.mark.parametrize(
    "path", [REPOSITORY / "README.md", *sorted(DOCS.glob("*.md")), *HOW_TO], ids=lambda path: path.stem
)
def test_what_is_typed_is_there(path: Path) -> None:
    """Commands that are not run here, too: their names, options and the files that come with the clone."""
    text = path.read_text(encoding="utf-8")
    fenced = "".join(re.findall(r"^```sh\n(.*?)^```", text, re.MULTILINE | re.DOTALL))
    typed = re.findall(r"^    splitwright (.*)$", text, re.MULTILINE)
    typed += re.findall(r"^splitwright (.*)$", fenced, re.MULTILINE)
    typed += [" ".join(line.split()) for line in re.findall(r"`splitwright ([^`]+)`", text)]
    for line in typed:
        name, *words = shlex.split(line, comments=True)
        if name == "--version":
            continue
        assert name.strip(",") in COMMANDS, line
        params = typer.main.get_command(app).get_command(None, name).params  # type: ignore[attr-defined]
        known = {"--help", *(option for one in params for option in one.opts)}
        assert [word for word in words if word.startswith("--") and word.partition("=")[0] not in known] == [], line
        files = [word for word in words if word.startswith("specs/")]
        assert [file for file in files if not (REPOSITORY / file).is_file()] == [], line
