"""docs/tutorial.md walked through as a reader does: every command, every edit, what is printed, every picture."""

from __future__ import annotations

import importlib.util
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path
from types import ModuleType
from xml.etree import ElementTree

import pytest
import typer.main
from pypdf import PdfReader

from sim.errors import InputError
from sim.world.files.reading import load_layout
from sim.world.parts import PART_KINDS
from splitwright.app import COMMANDS, app
from splitwright.commands.sheet.printing import browser_path
from splitwright.words import english
from splitwright.words.catalogue import languages
from splitwright.words.labels import load_labels

REPOSITORY = Path(__file__).resolve().parent.parent
DOCS = REPOSITORY / "docs"
PAGE = (DOCS / "tutorial.md").read_text(encoding="utf-8")
CAUTION = (
    "*Models a block world; no guide to real kilns, furnaces or wiring, where local codes and licensed practice rule.*"
)
PNG_MOST = 80_000
LINK = re.compile(r"\]\(([^)\s]+)\)")
IMAGE = re.compile(r"!\[([^\]]*)\]\(([^)\s]+)\)")
FILE = re.compile(r"^[\w./-]+\.(?:plan|toml|html|pdf|json)$")
TYPED = re.compile(r"`(splitwright [^`]+)`")


@pytest.fixture(scope="module")
def docs() -> dict[str, ModuleType]:
    """The scripts of docs/, which are no package."""
    modules = {}
    sys.path.insert(0, str(DOCS))
    try:
        for name in ("make_picture", "tutorial_steps", "tutorial_pictures"):
            spec = importlib.util.spec_from_file_location(name, DOCS / f"{name}.py")
            assert spec is not None
            assert spec.loader is not None
            modules[name] = sys.modules[name] = importlib.util.module_from_spec(spec)
            spec.loader.exec_module(modules[name])
    finally:
        sys.path.remove(str(DOCS))
    return modules


@pytest.mark.slow
def test_the_tutorial_is_true(docs: dict[str, ModuleType], tmp_path: Path) -> None:
    """One walk for all of it, since that is what takes long."""
    steps, folder = docs["tutorial_steps"], tmp_path / "clone"
    folder.mkdir()
    (tmp_path / "tools").mkdir()
    done = steps.walk(PAGE, folder, tmp_path / "tools", has_browser=has_browser())
    wrong = [(one.command, one.status, one.due, one.printed) for one in done.ran if one.status != one.due]
    assert wrong == []
    assert steps.refreshed(PAGE, done) == PAGE, "run: make tutorial"
    pictures = docs["tutorial_pictures"].drawn(done, folder)
    assert {path.name for path in (DOCS / "tutorial").glob("*.svg")} == pictures.keys()
    for name, text in pictures.items():
        assert text == (DOCS / "tutorial" / name).read_text(encoding="utf-8"), f"{name} is another; run: make tutorial"
    check_files(folder, [one.command for one in done.ran])
    check_mended(folder)
    check_sheet(folder)


def check_files(folder: Path, commands: list[str]) -> None:
    """Each file that a command names is there in the end, and those that the text tells of."""
    named = {word for command in commands for word in shlex.split(command) if FILE.match(word)}
    assert named >= {"kilns.toml", "mine.plan", "mended.plan", "house.toml", "kilns.html"}
    assert [name for name in sorted(named) if not (folder / name).is_file()] == []
    made = {path.name for path in (folder / "build/kilns").iterdir()}
    assert made == {"compare.html", *(f"layout-{k}.{end}" for k in (1,) for end in ("plan", "json", "html"))}


def check_mended(folder: Path) -> None:
    """What `improve` and the reader's own hand make of the mistake is what `propose` gave."""
    best = load_layout(folder / "build/kilns/layout-1.plan")
    assert set(load_layout(folder / "mended.plan").parts) == set(best.parts)
    assert load_layout(folder / "mine.plan").parts == best.parts


def check_sheet(folder: Path) -> None:
    """It speaks the house's words, on the page and in print."""
    page = (folder / "kilns.html").read_text(encoding="utf-8")
    assert "dipsticks" in page
    assert "wet clay" in page
    assert "The gauge at" not in page
    if has_browser():
        text = " ".join(one.extract_text() for one in PdfReader(folder / "kilns.pdf").pages)
        assert "dipstick" in text
        assert "wet clay" in text


def has_browser() -> bool:
    try:
        return bool(browser_path())
    except InputError:
        return False


# -- the page ---------------------------------------------------------------------------------------------------------


def test_the_caution_stands_near_the_top() -> None:
    assert CAUTION in PAGE[:700]


def test_links_resolve() -> None:
    headings = {anchor(line) for line in re.findall(r"^#+ (.*)$", PAGE, re.MULTILINE)}
    for link in LINK.findall(PAGE):
        path, _, part = link.partition("#")
        assert "://" not in link, "it needs no network"
        assert (DOCS / path).exists(), link
        assert path or part in headings, link


def anchor(heading: str) -> str:
    """As GitHub makes it: small letters, blanks to hyphens, no other signs (from memory)."""
    return re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-")


def test_every_picture_is_shown_and_has_words() -> None:
    shown = {path: words for words, path in IMAGE.findall(PAGE)}
    assert shown.keys() == {f"tutorial/{path.name}" for path in (DOCS / "tutorial").iterdir()}
    assert all(len(words) > 10 for words in shown.values())


def test_pictures_of_a_browser_are_small(docs: dict[str, ModuleType]) -> None:
    """Their bytes are those of one version of the browser, so that only their kind and size are looked at."""
    found = {path.name: path.read_bytes() for path in (DOCS / "tutorial").glob("*.png")}
    assert found.keys() == set(docs["tutorial_pictures"].SHOTS)
    for name, data in found.items():
        assert data.startswith(b"\x89PNG\r\n\x1a\n"), name
        assert len(data) < PNG_MOST, name
        width, height = int.from_bytes(data[16:20]), int.from_bytes(data[20:24])
        assert 300 <= width <= 1200, name
        assert 300 <= height <= 1200, name


def test_pictures_are_well_formed_and_say_what_they_are() -> None:
    for path in (DOCS / "tutorial").glob("*.svg"):
        root = ElementTree.parse(path).getroot()
        assert root.tag == "{http://www.w3.org/2000/svg}svg", path.name
        if path.name != "propose.svg":
            assert root.find("{http://www.w3.org/2000/svg}title") is not None, path.name
        assert "http" not in path.read_text(encoding="utf-8").replace("http://www.w3.org/", ""), path.name


def test_what_is_typed_is_a_command_with_options_that_it_has(docs: dict[str, ModuleType]) -> None:
    known = {name: typer.main.get_command(app).get_command(None, name) for name in COMMANDS}  # type: ignore[attr-defined]
    typed = [line for block in docs["tutorial_steps"].blocks(PAGE) if block.kind == "sh" for line in block.commands]
    typed += [" ".join(line.split()) for line in TYPED.findall(PAGE)]
    named = set()
    for line in typed:
        program, *words = shlex.split(line)
        if program != "splitwright" or words == ["--version"]:
            continue
        assert words[0] in COMMANDS, line
        named.add(words[0])
        options = {option for parameter in known[words[0]].params for option in parameter.opts}
        assert [word for word in words[1:] if word.startswith("--") and word not in options] == [], line
    assert {"new", "propose", "draw", "check", "improve", "watch", "trial", "assure", "labels", "sheet"} <= named


def test_only_the_set_up_is_not_run(docs: dict[str, ModuleType]) -> None:
    blocks = docs["tutorial_steps"].blocks(PAGE)
    left_out = [block.commands for block in blocks if block.kind == "sh" and not block.is_run]
    assert left_out == [["make venv", ". .venv/bin/activate"]]
    assert re.search(r"^venv:", (REPOSITORY / "Makefile").read_text(encoding="utf-8"), re.MULTILINE)
    assert sum(len(block.commands) for block in blocks if block.is_run) >= 18
    assert {block.status for block in blocks if block.is_run} == {0, 1}


def test_files_that_come_with_the_clone_are_there() -> None:
    for name in re.findall(r"\bspecs/[\w./-]+\.(?:toml|plan)\b", PAGE):
        assert (REPOSITORY / name).is_file(), name


# -- the walk itself --------------------------------------------------------------------------------------------------

SMALL = """Text.

```sh
echo one
exit 3
```

<!-- printed -->
```text
two
```

That gives exit status 3.

<!-- typed: blue | -->
```sh
printf 'Hue [red]: '; read -r a; printf 'Size [2]: '; read -r b; echo "$a, ${b:-2}"; echo left > note.txt; cat note.txt
```

<!-- printed from "Size" until "left" -->
```text
```

<!-- edit note.txt -->
```diff
-left
+right
```
"""


def walked(docs: dict[str, ModuleType], page: str, folder: Path) -> object:
    (folder / "clone").mkdir(parents=True)
    (folder / "tools").mkdir()
    return docs["tutorial_steps"].walk(page, folder / "clone", folder / "tools")


def test_a_walk_sees_statuses_answers_and_what_is_printed(docs: dict[str, ModuleType], tmp_path: Path) -> None:
    done = walked(docs, SMALL, tmp_path)
    assert [(one.status, one.due) for one in done.ran] == [(0, 3), (3, 3), (0, 0)]  # type: ignore[attr-defined]
    renewed = docs["tutorial_steps"].refreshed(SMALL, done)
    assert "```text\none\n```" in renewed
    assert "```text\nSize [2]:\nblue, 2\n```" in renewed
    assert (tmp_path / "clone" / "note.txt").read_text(encoding="utf-8") == "right\n"


def test_without_a_browser_what_needs_one_is_left_out(docs: dict[str, ModuleType], tmp_path: Path) -> None:
    page = "<!-- needs a browser -->\n```sh\necho printed\n```\n"
    for has, statuses in ((True, [0]), (False, [])):
        folder = tmp_path / str(has)
        (folder / "clone").mkdir(parents=True)
        done = docs["tutorial_steps"].walk(page, folder / "clone", folder, has_browser=has)
        assert [one.status for one in done.ran] == statuses


def test_an_edit_that_does_not_fit_is_refused(docs: dict[str, ModuleType], tmp_path: Path) -> None:
    with pytest.raises(AssertionError, match=r"note\.txt has the line 'left' 2 times"):
        walked(docs, SMALL.replace("echo left", "printf 'left\\nleft\\n'"), tmp_path / "twice")
    with pytest.raises(AssertionError, match="no line begins with 'Sort'"):
        walked(docs, SMALL.replace('from "Size"', 'from "Sort"'), tmp_path / "cut")


def test_what_differs_from_run_to_run_is_left_out(docs: dict[str, ModuleType]) -> None:
    printed = "12:31:07  mine.plan\n0.9 s\nat rest since tick 7 (0.35 s).\nBuild sheet: a.html (128 kB).\n"
    left = docs["tutorial_steps"]._normal(printed)
    assert left == "hh:mm:ss  mine.plan\nat rest since tick 7 (0.35 s).\nBuild sheet: a.html (… kB).\n"


# -- house names ------------------------------------------------------------------------------------------------------


def test_labels_that_come_with_the_clone_load() -> None:
    """One for each language, and every name that a file states is said."""
    paths = sorted((REPOSITORY / "specs" / "labels").glob("*.toml"))
    assert sorted(load_labels(path).language for path in paths) == languages()
    for path in paths:
        words, stated = load_labels(path), tomllib.loads(path.read_text(encoding="utf-8"))
        said = {kind: [words.part(kind), words.part(kind, 2)] for kind in stated["parts"]}
        assert said == stated["parts"], path
        assert {kind: words.item(kind) for kind in stated["items"]} == stated["items"], path
        ways = {way: {"name": words.direction(way), "letter": words.letter(way)} for way in stated["directions"]}
        assert ways == stated["directions"], path


def test_the_house_names_of_the_brickyard() -> None:
    words, ours = load_labels(REPOSITORY / "specs" / "labels" / "brickyard.toml"), english()
    assert (words.part("gauge"), words.part("gauge", 2), words.direction("E")) == ("dipstick", "dipsticks", "roadward")
    assert (words.item("clay"), words.item("brick"), words.item("charcoal")) == ("wet clay", "fired brick", "charcoal")
    names = [words.part(kind) for kind in PART_KINDS]
    assert len(set(names)) == len(names)
    assert all(words.part(kind, 2) != ours.part(kind, 2) for kind in PART_KINDS)


def test_the_example_in_the_labels_file_can_be_typed(tmp_path: Path) -> None:
    text = (REPOSITORY / "specs" / "labels" / "brickyard.toml").read_text(encoding="utf-8")
    (line,) = re.findall(r"^# Try it: splitwright (.*)$", text, re.MULTILINE)
    words = [sys.executable, "-m", "splitwright", *shlex.split(line), "--time-limit", "0"]
    run = subprocess.run(
        [*words, "--out", str(tmp_path / "kilns.html")], cwd=REPOSITORY, capture_output=True, text=True, check=False
    )
    assert (run.returncode, run.stderr) == (0, "")
    assert "dipstick" in (tmp_path / "kilns.html").read_text(encoding="utf-8")
