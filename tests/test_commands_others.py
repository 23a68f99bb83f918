"""``check``, ``draw``, ``laws``, help and completion."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from commands import FLAWED, LAYOUTS, ROW, document, run, run_as_user
from printed import ONE_KILN
from sim.world.files.layout_json import layout_to_json
from sim.world.files.reading import load_layout
from sim.world.rulebook import load_rulebook
from splitwright.app import COMMANDS


def test_commands_are_offered() -> None:
    assert {"trial", "check", "draw", "laws"} <= set(COMMANDS)


@pytest.mark.parametrize("command", COMMANDS)
def test_help_has_an_example_that_names_the_command(command: str) -> None:
    result = run(command, "--help", COLUMNS="100")
    assert (result.exit_code, result.stderr) == (0, "")
    assert f"Example: splitwright {command} " in result.stdout
    assert "--json" in result.stdout
    assert "--quiet" in result.stdout


@pytest.mark.parametrize("command", ["trial", "check", "draw", "laws"])
def test_examples_run(command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The example of each help, on a layout of that name."""
    (tmp_path / "kilns.plan").write_text(Path(ROW).read_text(encoding="utf-8"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    found = re.search(r"Example: splitwright (.*)", run(command, "--help", COLUMNS="200").stdout)
    assert found is not None
    result = run(*found.group(1).split())
    assert (result.exit_code, result.stderr) == (0, "")


def test_check_without_findings() -> None:
    result = run("check", ROW)
    assert result.exit_code == 0
    assert result.stdout.startswith("No findings: every design check is met.\nNothing has run yet. ")
    assert document(run("check", ROW, "--json"), "splitwright-check-1") == {
        "format": "splitwright-check/1",
        "findings": [],
    }


@pytest.mark.parametrize(
    ("row", "other", "told"),
    [
        ("nD nD nD", "nD nE nD", "the node at 2,1,1, outlet E; with outlet D clay gets to the output at 2,1,0."),
        ("nE nE nE nE", "nE nE nW nE", "the node at 2,1,2, outlet W; with outlet E clay gets to the output at 3,1,0."),
    ],
)
def test_check_names_a_node_that_is_turned_the_wrong_way(row: str, other: str, told: str, tmp_path: Path) -> None:
    text = Path(ROW).read_text(encoding="utf-8")
    assert row in text
    path = tmp_path / "turned.plan"
    path.write_text(text.replace(row, other), encoding="utf-8")
    lines = run("check", str(path)).stdout.splitlines()
    assert f"Turned the wrong way: {told}" in lines
    assert not any("Turned" in line for line in run("check", ROW).stdout.splitlines())


def test_check_with_findings() -> None:
    result = run("check", FLAWED, "--json")
    assert result.exit_code == 1
    (finding,) = document(result, "splitwright-check-1")["findings"]
    assert (finding["check"], finding["at"]) == ("touching runs", [3, 0, 1])
    shown = run("check", FLAWED)
    assert shown.exit_code == 1
    assert "touching runs" in shown.stdout
    assert shown.stdout.startswith("1 finding: touching runs at 3,0,1.\n")
    assert run("check", FLAWED, "--quiet").stdout == "1 finding: touching runs at 3,0,1.\n"


@pytest.mark.parametrize("path", sorted(LAYOUTS.glob("*.plan")), ids=lambda path: path.stem)
def test_draw_converts_without_loss(path: Path, tmp_path: Path) -> None:
    as_json, as_plan = tmp_path / "it.json", tmp_path / "it.plan"
    assert run("draw", str(path), "--as", "json", "--out", str(as_json)).exit_code == 0
    assert run("draw", str(as_json), "--out", str(as_plan)).exit_code == 0
    assert as_plan.read_text(encoding="utf-8").startswith("splitwright-plan/1\n")
    assert load_layout(as_json) == load_layout(as_plan) == load_layout(path)
    assert run("draw", str(as_plan), "--as", "json").stdout == as_json.read_text(encoding="utf-8")
    assert run("draw", str(as_json), "--as", "plan").stdout == as_plan.read_text(encoding="utf-8")


def test_draw_json_is_the_layout(tmp_path: Path) -> None:
    path = tmp_path / "kiln.json"
    path.write_text(ONE_KILN, encoding="utf-8")
    result = run("draw", str(path), "--json")
    found = document(result, "splitwright-layout-1")
    assert found == json.loads(ONE_KILN) == layout_to_json(load_layout(path))


def test_draw_json_beside_a_file(tmp_path: Path) -> None:
    out = tmp_path / "it.plan"
    result = run("draw", ROW, "--as", "plan", "--json", "--out", str(out))
    assert document(result, "splitwright-layout-1")["size"] == [6, 4, 4]
    assert load_layout(out) == load_layout(ROW)


def test_draw_shows_layers_and_legend() -> None:
    shown = run("draw", ROW).stdout
    assert shown.startswith("Three kilns, even for a burst of clay\n6 x 4 x 4 cells")
    assert "layer 0 (ground)  |  layer 1 " in shown
    assert "nE   node, outlet east" in shown
    quiet = run("draw", ROW, "--quiet").stdout
    assert quiet in shown
    assert "node, outlet" not in quiet
    assert max(map(len, run("draw", ROW, COLUMNS="50").stdout.splitlines()[3:])) <= 50


def test_draw_into_a_text_file(tmp_path: Path) -> None:
    out = tmp_path / "it.txt"
    assert run("draw", ROW, "--out", str(out)).stdout == ""
    assert out.read_text(encoding="utf-8").startswith("Three kilns")


def test_laws_prints_every_number() -> None:
    book = load_rulebook()
    result = run("laws", "--json")
    found = document(result, "splitwright-laws-1")
    assert found["title"] == book.title
    assert [(law["name"], law["value"], law["provenance"], law["about"]) for law in found["laws"]] == [
        (entry.name, entry.value, entry.provenance, entry.about) for entry in book.entries
    ]
    shown = run("laws")
    assert (shown.exit_code, shown.stderr) == (0, "")
    for entry in book.entries:
        row = rf"^{re.escape(entry.name)} +{entry.value}  {entry.provenance} +{re.escape(entry.about)}$"
        assert re.search(row, shown.stdout, re.MULTILINE), entry.name
    assert run("laws", "--quiet").stdout == "".join(f"{entry.name} {entry.value}\n" for entry in book.entries)


def test_laws_marks_what_a_layout_overrides(tmp_path: Path) -> None:
    layout = tmp_path / "other.plan"
    layout.write_text("splitwright-plan/1\nitem charcoal burn 80\nrule handover 7\nlayer 0\n.\n", encoding="utf-8")
    found = {law["name"]: law for law in document(run("laws", str(layout), "--json"), "splitwright-laws-1")["laws"]}
    assert found["handover"]["value"] == 7
    assert found["handover"]["provenance"] == "layout"
    assert found["handover"]["rulebook"] == {"value": 8, "provenance": "practice"}
    assert found["burn.charcoal"]["value"] == 80
    assert [name for name, law in found.items() if law["provenance"] == "layout"] == ["handover", "burn.charcoal"]
    shown = run("laws", str(layout)).stdout
    assert re.search(r"^handover \* +7  layout \(rulebook: 8, practice\) ", shown, re.MULTILINE)
    assert shown.endswith("* set by the layout in place of the rulebook\n")


def test_laws_of_another_rulebook(tmp_path: Path, repository: Path) -> None:
    text = (repository / "specs" / "rules" / "default.toml").read_text(encoding="utf-8")
    other = tmp_path / "other.toml"
    other.write_text(text.replace("[period]\nvalue = 8", "[period]\nvalue = 9"), encoding="utf-8")
    found = document(run("laws", "--rules", str(other), "--json"), "splitwright-laws-1")
    assert {law["name"]: law["value"] for law in found["laws"]}["period"] == 9


def test_version() -> None:
    result = run("--version")
    assert result.exit_code == 0
    assert re.fullmatch(r"splitwright \d+\.\d+.*\n", result.stdout)


@pytest.mark.parametrize(("words", "expected"), [("tr", "trial"), ("trial --ha", "--handover"), ("draw --as ", "plan")])
def test_shell_completion(words: str, expected: str) -> None:
    count = len(words.split(" "))
    result = run_as_user(
        _SPLITWRIGHT_COMPLETE="complete_bash", COMP_WORDS=f"splitwright {words}", COMP_CWORD=str(count)
    )
    assert expected in result.stdout.split()
    assert result.returncode == 0


def test_completion_script() -> None:
    result = run_as_user(_SPLITWRIGHT_COMPLETE="source_bash")
    assert result.returncode == 0
    assert "complete -o default" in result.stdout
    assert "--install-completion" in run("--help").stdout
