"""``splitwright improve`` as a user runs it: the list, the verdict, exit statuses, JSON, files, bad input, Ctrl-C."""

from __future__ import annotations

import signal
import subprocess
from pathlib import Path

import pytest

from commands import LAYOUTS, WAIT_S, command_line, document, faults, run
from sim.analysis.checks import design_findings
from sim.world.files.layout_json import layout_json_text
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout

SCHEMA = "splitwright-improvement-1"
TWO = LAYOUTS / "burst-row-of-two.plan"
DRAIN_GAUGE = (0, 2, 2)
PINNED = ("--scheme", "burst row")


def broken(folder: Path, *cells: Cell) -> str:
    """The file of a row of two without the parts in these cells."""
    layout = load_layout(TWO)
    assert set(cells) <= set(layout.by_cell)
    kept = tuple(part for part in layout.parts if part.at not in cells)
    path = folder / "broken.json"
    spoilt = Layout(layout.title, layout.size, layout.items, kept, layout.streams, layout.rules)
    path.write_text(layout_json_text(spoilt), encoding="utf-8")
    return str(path)


def test_a_missing_drain_gauge_is_told_in_words(tmp_path: Path) -> None:
    result = run("improve", broken(tmp_path, DRAIN_GAUGE), *PINNED, "-v")
    assert result.exit_code == 0
    assert "1 change" in result.stdout
    assert "proved" in result.stdout
    assert "add a gauge at 0,2,2 with output N (reads T0 at 0,1,2)" in result.stdout
    assert "Scope: " in result.stdout
    assert "Before: " in result.stdout


def test_json_follows_its_schema_and_the_file_holds_what_passes(tmp_path: Path) -> None:
    out = tmp_path / "mended.plan"
    found = document(run("improve", broken(tmp_path, DRAIN_GAUGE), *PINNED, "--json", "--out", str(out)), SCHEMA)
    assert (found["status"], found["proved"], found["cost"]) == ("found", True, 1)
    assert found["changes"][0]["action"] == "add"
    assert found["before"]["trials"][-1]["passed"] is False
    assert all(trial["passed"] for trial in found["after"]["trials"])
    assert faults(found["layout"], "splitwright-layout-1") == []
    assert found["files"] == [str(out)]
    mended = load_layout(out)
    assert design_findings(mended) == []
    passes = run("improve", str(out), "--json")
    assert document(passes, SCHEMA)["status"] == "passes"


def test_a_build_that_passes(tmp_path: Path) -> None:
    out = tmp_path / "same.json"
    result = run("improve", str(TWO), "--quiet", "--out", str(out))
    assert result.exit_code == 0
    assert "No change is needed" in result.stdout
    assert load_layout(out) == load_layout(TWO)


def test_no_list_up_to_that_cost(tmp_path: Path) -> None:
    words = ("--most", "1", "--room", "0", "--json")
    result = run("improve", broken(tmp_path, DRAIN_GAUGE, (4, 0, 2)), *PINNED, *words)
    assert result.exit_code == 1
    found = document(result, SCHEMA)
    assert (found["status"], found["proved"], found["layout"]) == ("none exists", True, None)


def test_quiet_leaves_the_list_and_the_verdict(tmp_path: Path) -> None:
    result = run("improve", broken(tmp_path, DRAIN_GAUGE), *PINNED, "--quiet")
    assert len(result.stdout.splitlines()) == 2


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--scheme", "burst rwo"), "burst row"),
        (("--handover", "9"), "--handover"),
        (("--price", "relay"), "KIND=N"),
        (("--price", "relai=2"), "relay"),
        (("--price", "relay=0"), "--price relay"),
        (("--price", "relay=2", "--price", "relay=3"), "given twice"),
        (("--out", "mended.txt"), ".plan"),
        (("--scheme", "brimmed row"), "filled nodes"),
        (("--room", "-1"), "--room"),
    ],
)
def test_bad_words_are_one_line(words: tuple[str, ...], told: str) -> None:
    result = run("improve", str(TWO), *words)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1
    assert told in result.stderr


def test_outputs_that_are_no_furnaces_are_beyond_it() -> None:
    result = run("improve", str(LAYOUTS / "runs-apart.plan"))
    assert result.exit_code == 2
    assert "no furnace" in result.stderr


@pytest.mark.parametrize(("most", "status", "code"), [((), "found", 0), (("--most", "6"), "stopped", 3)], ids=str)
def test_ctrl_c_ends_it_with_a_document(most: tuple[str, ...], status: str, code: int) -> None:
    """The row without a drain lacks a whole run in a site that is too small: minutes of search, but known rows have it.
    What they come to is kept."""
    build = str(LAYOUTS / "row-of-three-no-drain.plan")
    words = ("improve", build, *PINNED, "--room", "1", "--time-limit", "80", "--json", *most)
    process = subprocess.Popen(command_line(*words), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        with pytest.raises(subprocess.TimeoutExpired):
            process.wait(8)
        process.send_signal(signal.SIGINT)
        out, _ = process.communicate(timeout=WAIT_S)
    finally:
        process.kill()
    assert process.returncode == code
    assert f'"status": "{status}"' in out
