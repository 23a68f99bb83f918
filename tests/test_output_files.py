"""What a command writes takes the place of no file of another kind, and of none that it reads."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
import typer

from commands import REPOSITORY, ROW, UNEVEN, run
from splitwright.app import COMMANDS, app

SPEC = str(REPOSITORY / "specs" / "two-kilns.toml")
HALL = str(REPOSITORY / "specs" / "sixteen-kilns.toml")
OUTPUTS = [
    (("compare", ROW, UNEVEN, "--out"), ".html"),
    (("sheet", ROW, "--time-limit", "0", "--out"), ".html"),
    (("sheet", ROW, "--time-limit", "0", "--pdf"), ".pdf"),
    (("labels", ROW, "--out"), ".toml"),
    (("trial", ROW, "--waves"), ".vcd"),
    (("draw", ROW, "--as", "json", "--out"), ".json"),
    (("draw", ROW, "--as", "plan", "--out"), ".plan"),
    (("draw", ROW, "--out"), ".json, .plan or .txt"),
    (("probe", "--out"), ".plan"),
    (("improve", UNEVEN, "--out"), ".json or .plan"),
    (("new", "--outputs", "3", "--force"), ".toml"),
]
"""Each option that names a file to be written, at the end (new: its file), and what that may end in."""
KEPT = [("propose", SPEC, "--resume"), ("tighter", SPEC, "--resume"), ("propose", HALL, "--pieces")]
"""Files that are read before they are written, whatever they are called."""


OTHERS = {"kilns.plan": "a plan", "cases.json": "{}", "spec.toml": 'format = "splitwright-spec/1"', "notes": "a note"}


@pytest.mark.parametrize(
    ("words", "endings", "other"),
    [
        (words, endings, other)
        for words, endings in OUTPUTS
        for other in OTHERS
        if not ((other == "kilns.plan" and ".plan" in endings) or (other == "spec.toml" and words[0] == "new"))
    ],
)
def test_a_file_of_another_kind_is_never_overwritten(
    words: tuple[str, ...], endings: str, other: str, tmp_path: Path
) -> None:
    path = tmp_path / other
    path.write_text(OTHERS[other], encoding="utf-8")
    result = run(*words, str(path))
    assert (result.exit_code, result.stdout, result.stderr.count("\n")) == (2, "", 1), result.output
    wrong_ending = f': must end in {endings}, not "{other}"\n'
    wrong_inside = f": {path} is there already and is no (layout|labels file); name another file\n$"
    told_by_ending = path.suffix in endings.replace(",", "").split()
    assert re.search(wrong_inside, result.stderr) if told_by_ending else wrong_ending in result.stderr
    assert [*tmp_path.iterdir()] == [path]
    assert path.read_text(encoding="utf-8") == OTHERS[other]


@pytest.mark.parametrize("words", KEPT, ids=" ".join)
def test_nor_one_that_is_kept_from_search_to_search(words: tuple[str, ...], tmp_path: Path) -> None:
    plan = shutil.copy(ROW, tmp_path / "kilns.plan")
    result = run(*words, str(plan), "--time-limit", "5")
    assert (result.exit_code, result.stdout, result.stderr.count("\n")) == (2, "", 1)
    assert Path(plan).read_bytes() == Path(ROW).read_bytes()


@pytest.mark.parametrize("words", [("draw",), ("draw", "--as", "plan"), ("improve",)], ids=" ".join)
def test_nor_the_layout_that_is_read(words: tuple[str, ...], tmp_path: Path) -> None:
    plan = shutil.copy(ROW, tmp_path / "kilns.plan")
    result = run(*words, str(plan), "--out", str(plan))
    assert (result.exit_code, result.stderr) == (2, "splitwright: --out: is the layout itself; name another file\n")
    assert Path(plan).read_bytes() == Path(ROW).read_bytes()


def test_nor_the_layout_that_is_bettered(tmp_path: Path) -> None:
    plan = shutil.copy(ROW, tmp_path / "layout-1.plan")
    result = run("tighter", str(plan), "--out", str(tmp_path))
    assert result.exit_code == 2
    assert result.stderr == 'splitwright: --out: holds the layout itself, "layout-1.plan"; name another folder\n'


@pytest.mark.parametrize(("words", "name"), [(("labels", ROW), "house.toml"), (("draw", ROW), "kilns.json")])
def test_its_own_kind_is_written_anew(words: tuple[str, ...], name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.touch()  # an empty one takes nothing with it
    for _ in range(2):
        assert run(*words, "--out", str(path)).exit_code == 0
        assert path.stat().st_size
        path.write_text(path.read_text(encoding="utf-8") + "\n", encoding="utf-8")


def test_no_option_that_names_an_output_is_left_out() -> None:
    """Every option whose value is told as a FILE and which no command reads stands in the lists above."""
    group = typer.main.get_command(app)
    named = {
        (name, option)
        for name in COMMANDS
        for parameter in group.get_command(None, name).params  # type: ignore[attr-defined]
        for option in parameter.opts
        if str(parameter.metavar).startswith("FILE") and option.startswith("--")
    }
    read = {"--labels", "--case", "--order"}
    tested = {(words[0], words[-1]) for words in [*(words for words, _ in OUTPUTS), *KEPT]} - {("new", "--force")}
    assert {one for one in named if one[1] not in read} == tested
