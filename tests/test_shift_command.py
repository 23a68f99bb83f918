"""``splitwright shift``: answers, exit statuses, documents, bad input, Ctrl-C."""

from __future__ import annotations

import contextlib
import copy
import json
import os
import pty
import re
import select
import signal
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from subprocess import PIPE, Popen
from typing import Any

import pytest

from commands import REPOSITORY, ROW, WAIT_S, command_line, document, environment, faults, run
from halls import BIN_HALL, ROW_HALL, hall, locked_hall
from sim.analysis.production.hall import Hall
from sim.analysis.production.run import production_run
from sim.world.files.plan_writer import layout_to_plan
from sim.world.rulebook import default_rules
from splitwright.commands.shift.report import shift_report

SCHEMA = "splitwright-shift-1"


@pytest.fixture
def good(tmp_path: Path) -> str:
    """A hall that gets through every incident."""
    path = tmp_path / "good.plan"
    path.write_text(BIN_HALL, encoding="utf-8")
    return str(path)


@pytest.fixture
def unlocked(tmp_path: Path) -> str:
    """A hall whose rows share nothing evenly."""
    path = tmp_path / "unlocked.plan"
    path.write_text(ROW_HALL, encoding="utf-8")
    return str(path)


def test_as_it_should(good: str) -> None:
    result = run("shift", good, "-v")
    assert (result.exit_code, result.stderr) == (0, "")
    answer, scope, *_ = result.stdout.splitlines()
    assert answer == (
        "As it should: nothing is lost in any of 7 runs, and each went as its incident allows, "
        "720 products an hour in steady."
    )
    assert scope == "This holds for 7 runs of 2 h of world time each, the layout's update order and handover 8."
    assert "The product line of 2 furnaces ends in the bin at 3,0,0." in result.stdout
    assert re.search(r"^furnaces +720 +2 x 3600 x 20 / 200$", result.stdout, re.MULTILINE)
    taken = "the furnace at 2,0,1 is taken away, with 64 clay and 64 charcoal"
    assert f"  tick 72,000 (3,600.00 s): {taken}" in result.stdout
    assert "stuck: sand in the feed slot of the furnace at 0,0,1: take it out by hand" in result.stdout


def test_more_than_the_bound_is_explained() -> None:
    """Product that was on its way when counting began comes out beside what the bound is about."""
    layout = hall(BIN_HALL)
    (report,) = production_run(layout, None, 0.1, ("steady",))
    why = "More than 100 % of the bound: what was on its way when counting began came out, too."
    for output, is_told in ((report.bound.per_hour, False), (report.bound.per_hour * Fraction(1001, 1000), True)):
        reports = [replace(report, output=output)]
        lines = list(shift_report(Hall(layout, default_rules()), reports, 0.1, complete=True, quiet=False))
        assert (why in lines) == is_told


def test_one_that_did_not(unlocked: str) -> None:
    result = run("shift", unlocked, "--hours", "0.5", "--incident", "fuel-short", "--incident", "steady")
    assert (result.exit_code, result.stderr) == (1, "")
    answer = "Not as it should: fuel-short (1 of 2 runs went as it should)."
    assert result.stdout.splitlines()[0] == answer
    assert "\nfuel-short: " in result.stdout
    assert "\nsteady: " not in result.stdout, "what went as it should has its row alone"
    assert "NO: the fuel of fuel is shared evenly, to 1 (spread 33)" in result.stdout


def test_quiet_is_one_line(good: str) -> None:
    result = run("shift", good, "--incident", "steady", "--hours", "0.2", "--quiet")
    assert result.exit_code == 0
    assert result.stdout.count("\n") == 1


def test_a_finding_is_a_no(tmp_path: Path) -> None:
    path = tmp_path / "nowhere.plan"
    path.write_text(ROW_HALL.replace("nE nE nE B", "nE nE nE .", 1), encoding="utf-8")
    result = run("shift", str(path), "--incident", "foreign-item", "--hours", "1")
    assert result.exit_code == 1
    assert "Finding: the product line of 3 furnaces leads nowhere: the node at 3,0,0 pushes into" in result.stdout
    assert result.stdout.startswith("Not as it should: 1 finding, though 2 of 2 runs went as they should.")


def test_many_furnaces_are_cut_short(tmp_path: Path) -> None:
    path = tmp_path / "many.plan"
    path.write_text(layout_to_plan(locked_hall(9, 3)), encoding="utf-8")
    result = run("shift", str(path), "-v", "--incident", "steady", "--hours", "0.1")
    assert "and 3 more" in result.stdout


def test_the_document(good: str) -> None:
    result = run("shift", good, "--json", "--hours", "0.5")
    assert (result.exit_code, result.stderr) == (0, "")
    found = document(result, SCHEMA)
    names = ["steady", "fires-out", "fuel-short", "full-bin", "furnace-gone", "foreign-item-feed", "foreign-item-fuel"]
    assert [one["name"] for one in found["incidents"]] == names
    assert found["complete"] is True
    assert found["incidents"][0]["output_per_hour"] == found["incidents"][0]["bound_per_hour"] == 720
    assert {one["lost"] for each in found["incidents"] for one in each["balance"]} == {0}
    assert found["lines"][0]["bins"] == [[3, 0, 0]]
    assert found["incidents"][4]["furnaces"][1]["gone_at"] == 18_000


@pytest.mark.parametrize(
    "spoil",
    [
        lambda found: found.pop("lines"),
        lambda found: found.update(format="splitwright-shift/2"),
        lambda found: found.update(complete="yes"),
        lambda found: found["bounds"][0].update(per_hour=-1),
        lambda found: found["incidents"][0].update(name="flood"),
        lambda found: found["incidents"][0].update(jain=1.01),
        lambda found: found["incidents"][0]["balance"][0].pop("lost"),
        lambda found: found["incidents"][0]["furnaces"][0]["idle"].update(share=2),
        lambda found: found["incidents"][0]["furnaces"][0].update(at="0,0,1"),
        lambda found: found["incidents"][0]["streams"][0].update(role="water"),
        lambda found: found["incidents"][0].update(stuck=[{"what": "odd", "at": [0, 0, 0], "text": "so"}]),
    ],
)
def test_the_schema_refuses(good: str, spoil: Callable[[dict[str, Any]], object]) -> None:
    found = document(run("shift", good, "--json", "--hours", "0.1", "--incident", "steady"), SCHEMA)
    spoiled = copy.deepcopy(found)
    spoil(spoiled)
    assert spoiled != found
    assert faults(spoiled, SCHEMA) != []


@pytest.mark.parametrize(
    ("words", "fault"),
    [
        (["--hours", "0"], '--hours: must be a number from 0.05 to 200, not "0"'),
        (["--hours", "two"], '--hours: must be a number from 0.05 to 200, not "two"'),
        (["--hours", "1e3"], '--hours: must be a number from 0.05 to 200, not "1e3"'),
        (["--incident", "flood"], '--incident: there is no incident "flood"; known are steady, '),
        (["--incident", "full-bon"], 'did you mean "full-bin"?'),
        (["--furnace", "1,2"], '--furnace: must be a cell x,y,z, as in 4,1,0, not "1,2"'),
        (["--furnace", "1,0,1"], "--furnace: no furnace stands at 1,0,1; furnaces are at 0,0,1, 2,0,1"),
        (["--refill", "0"], "--refill: must be a whole number from 1 to 10000"),
    ],
)
def test_bad_options(good: str, words: list[str], fault: str) -> None:
    result = run("shift", good, *words)
    assert (result.exit_code, result.stdout) == (2, "")
    assert fault in result.stderr
    assert result.stderr.count("\n") == 1


def test_no_hall(tmp_path: Path) -> None:
    path = tmp_path / "bare.plan"
    bare = BIN_HALL.replace("F  .  F", ".  .  .").replace("to 0,0,1", "to 0,0,2").replace("to 2,0,1", "to 2,0,2")
    path.write_text(bare, encoding="utf-8")
    result = run("shift", str(path))
    assert result.exit_code == 2
    assert result.stderr == f"splitwright: {path}: parts: there is no furnace; a working shift needs one\n"


def test_a_row_without_fuel_or_product_lines_is_a_no() -> None:
    result = run("shift", ROW, "--incident", "steady", "--hours", "0.1")
    assert result.exit_code == 1
    assert result.stdout.startswith("Not a hall: it is a split, with no fuel ")
    assert "no fuel stream names the furnace at" not in result.stdout
    result = run("shift", ROW, "--incident", "steady", "--hours", "0.1", "-v")
    assert "no fuel stream names the furnace at" in result.stdout
    assert "has no node below it: its product stays inside" in result.stdout


def test_ctrl_c_keeps_the_incidents_so_far(good: str) -> None:
    """The steady run is over and the next one far from it when Ctrl-C comes: the document holds the first one."""
    watched, theirs = pty.openpty()
    process = Popen(
        command_line("shift", good, "--hours", "100", "--json", "--incident", "steady", "--incident", "full-bin"),
        cwd=REPOSITORY, env=environment(TERM="xterm"), stdout=PIPE, stderr=theirs, text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    os.close(theirs)
    try:
        shown = b""
        while b"full-bin: " not in shown:
            assert select.select([watched], [], [], WAIT_S)[0], "it never came"
            shown += os.read(watched, 4096)
        process.send_signal(signal.SIGINT)
        out = ""
        while not out:
            if select.select([watched], [], [], 0.1)[0]:
                with contextlib.suppress(OSError):
                    os.read(watched, 4096)  # so that nothing that it shows holds it up
            if select.select([process.stdout], [], [], 0)[0]:
                out, _ = process.communicate(timeout=WAIT_S)
        assert process.returncode == 3
    finally:
        process.kill()
        process.wait()
        os.close(watched)
    found = json.loads(out)
    assert faults(found, SCHEMA) == []
    assert found["complete"] is False
    assert [one["name"] for one in found["incidents"]] == ["steady"]
