"""Bad input: one clear line on standard error, exit status 2, nothing on standard output, no traceback."""

from __future__ import annotations

import subprocess
import sys
from importlib.metadata import entry_points
from pathlib import Path
from types import ModuleType

import pytest

import splitwright.commands.check.command as check_command
from commands import FLAWED, LAYOUTS, REPOSITORY, ROW, command_line, environment, run, run_as_user
from splitwright.__main__ import main

CASES = {
    # --load
    "unknown stream": (
        ["trial", ROW, "--load", "fed=3"],
        '--load: the layout has no stream "fed"; did you mean "feed"?',
    ),
    "negative load": (
        ["trial", ROW, "--load", "feed=-3"],
        '--load feed: must be a whole number from 0 to 1000000, not "-3"',
    ),
    "huge load": (
        ["trial", ROW, "--load", "feed=1000001"],
        "--load feed: must be a whole number from 0 to 1000000",
    ),
    "endless load": (
        ["trial", ROW, "--load", "feed=" + "9" * 5000],
        "--load feed: must be a whole number from 0 to 1000000",
    ),
    "load that is no number": (
        ["trial", ROW, "--load", "feed=many"],
        '--load feed: must be a whole number from 0 to 1000000, not "many"',
    ),
    "load with an underscore": (
        ["trial", ROW, "--load", "feed=1_0"],
        "--load feed: must be a whole number",
    ),
    "load without a name": (
        ["trial", ROW, "--load", "54"],
        '--load: must be NAME=N, as in feed=54, not "54"',
    ),
    "load given twice": (
        ["trial", ROW, "--load", "feed=1", "--load", "feed=2"],
        '--load: "feed" is given twice; keep one',
    ),
    "load above the bin's room": (
        ["trial", ROW, "--load", "feed=1729"],
        f"{ROW}: load after tick 0: the bin at 0,1,3 has room for 1728 more clay, not for 1729",
    ),
    # numbers
    "handover 0": (
        ["trial", ROW, "--handover", "0"],
        '--handover: must be a whole number from 1 to 1000000, not "0"',
    ),
    "handover huge": (
        ["trial", ROW, "--handover", "1000000000"],
        "--handover: must be a whole number from 1 to 1000000",
    ),
    "every 0": (
        ["trial", ROW, "--every", "0"],
        '--every: must be a whole number from 1 to 1000000, not "0"',
    ),
    "ticks -1": (
        ["trial", ROW, "--ticks", "-1"],
        '--ticks: must be a whole number from 0 to 1000000000, not "-1"',
    ),
    "ticks 1.5": (
        ["trial", ROW, "--ticks", "1.5"],
        '--ticks: must be a whole number from 0 to 1000000000, not "1.5"',
    ),
    "ticks without a number": (["trial", ROW, "--ticks"], "--ticks: needs a value behind it"),
    # files
    "folder as layout": (["trial", str(LAYOUTS)], f"{LAYOUTS}: is a folder; name a file in it"),
    "no such layout": (["check", "no-such.plan"], "no-such.plan: there is no such file"),
    "waves in no folder": (
        ["trial", ROW, "--waves", "/no/such/w.vcd"],
        "/no/such/w.vcd: cannot be written: its folder does not exist",
    ),
    "waves to a folder": (
        ["trial", ROW, "--waves", str(LAYOUTS)],
        f"{LAYOUTS}: is a folder; name a file in it",
    ),
    "waves below a file": (
        ["trial", ROW, "--waves", f"{ROW}/w.vcd"],
        f"{ROW}/w.vcd: cannot be written (Not a directory)",
    ),
    "waves to a device": (
        ["trial", ROW, "--waves", "/dev/null"],
        "/dev/null: is no regular file; name another",
    ),
    "waves onto the layout": (
        ["trial", ROW, "--waves", ROW],
        "--waves: is the layout itself; name another file",
    ),
    "no such order": (
        ["trial", ROW, "--order", "no-such.txt"],
        "no-such.txt: there is no such file",
    ),
    "plan as order": (
        ["trial", ROW, "--order", ROW],
        f'{ROW}: line 1: must be a cell x,y,z, as in 1,0,2, not "splitwright-plan/1"',
    ),
    "draw into no folder": (
        ["draw", ROW, "--out", "/no/such/x.json"],
        "/no/such/x.json: cannot be written: its folder does not exist",
    ),
    "no such rulebook": (
        ["laws", "--rules", "defalt"],
        'no rulebook is called "defalt": did you mean "default"?',
    ),
    "folder as rulebook": (["laws", "--rules", str(LAYOUTS)], f'no rulebook is called "{LAYOUTS}"'),
    "layout as rulebook": (
        ["laws", "--rules", "no-such.toml"],
        "no-such.toml: there is no such file",
    ),
    # words
    "unknown option": (
        ["trial", ROW, "--lod", "feed=3"],
        'trial: --lod: there is no such option; did you mean "--load"?',
    ),
    "unknown option far off": (
        ["check", ROW, "--zzz"],
        "check: --zzz: there is no such option; known are --couplings, --json, --quiet, --help",
    ),
    "unknown option of all": (
        ["--versoin"],
        '--versoin: there is no such option; did you mean "--version"?',
    ),
    "unknown command": (["tril", ROW], '"tril": there is no such command; did you mean "trial"?'),
    "layout missing": (["trial"], "trial: LAYOUT is missing; see splitwright trial --help"),
    "one word too many": (["check", ROW, ROW], "check: got unexpected extra argument"),
    "unknown form": (
        ["draw", ROW, "--as", "jsn"],
        "draw: --as: 'jsn' is not one of 'json', 'plan'",
    ),
    "value for a switch": (["check", ROW, "--json=3"], "--json: takes no value"),
    "two things on standard output": (
        ["draw", ROW, "--as", "plan", "--json"],
        "--json: prints JSON, so that the plan of --as plan needs a file: --out FILE",
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_one_line(case: str) -> None:
    words, expected = CASES[case]
    result = run(*words)
    assert result.stderr.startswith(f"splitwright: {expected}")
    assert result.stderr.count("\n") == 1
    assert result.stderr.endswith("\n")
    assert (result.exit_code, result.stdout) == (2, "")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "0,1,2\n1,1,2\n2,1,2\n3,1,2\n1,1,1\n2,1,1\n3,1,1\n1,1,0\n2,1,0\n",
            "order: 3,1,0 is missing; list every node",
        ),
        ("0,1,2\n1,1,2\n0,1,2\n", "line 3: 0,1,2 stands on line 1 already"),
        ("0,1,2\n\n0,1,3\n", "line 3: 0,1,3 holds neither a node nor a furnace"),
        ("0,1\n", 'line 1: must be a cell x,y,z, as in 1,0,2, not "0,1"'),
        ("0,1,-2\n", 'line 1: must be a cell x,y,z, as in 1,0,2, not "0,1,-2"'),
        ("", "is empty; an order is one cell x,y,z a line"),
        ("0,1,2\0", "is no text but binary; an order is one cell x,y,z a line"),
    ],
)
def test_order_file(tmp_path: Path, text: str, expected: str) -> None:
    path = tmp_path / "order.txt"
    path.write_text(text, encoding="utf-8")
    result = run("trial", ROW, "--order", str(path))
    assert result.stderr.startswith(f"splitwright: {path}: {expected}")
    assert (result.exit_code, result.stdout, result.stderr.count("\n")) == (2, "", 1)


def test_failed_trial_leaves_no_wave_file(tmp_path: Path) -> None:
    waves = tmp_path / "waves.vcd"
    waves.write_text("what was there before", encoding="utf-8")
    assert run("trial", ROW, "--load", "feed=1729", "--waves", str(waves)).exit_code == 2
    assert waves.read_text(encoding="utf-8") == "what was there before"
    assert [path.name for path in tmp_path.iterdir()] == ["waves.vcd"]


@pytest.mark.parametrize("words", [["trial", ROW], ["trial", ROW, "--json"], ["check", ROW], ["draw", ROW], ["--help"]])
def test_standard_output_that_is_full(words: list[str]) -> None:
    """/dev/full: every write fails as on a full disk (full(4) of the Linux manual pages)."""
    with open("/dev/full", "w", encoding="utf-8") as full:
        process = subprocess.run(
            command_line(*words),
            cwd=REPOSITORY,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            env=environment(),
            check=False,
        )
    assert process.stderr.startswith("splitwright: standard output: ")
    assert (process.stderr.count("\n"), process.returncode) == (1, 2)


def test_as_a_user_runs_it() -> None:
    shown = run_as_user("trial", ROW, "--load", "fed=3")
    assert (shown.returncode, shown.stdout) == (2, "")
    assert shown.stderr == 'splitwright: --load: the layout has no stream "fed"; did you mean "feed"?\n'


def test_no_words_at_all_shows_the_help() -> None:
    result = run()
    assert (result.exit_code, result.stderr) == (2, "")
    assert "Usage: splitwright" in result.stdout


@pytest.mark.parametrize("debug", ["", "1"])
def test_fault_of_ours_is_one_line(monkeypatch: pytest.MonkeyPatch, debug: str) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("a fault\nof ours")

    monkeypatch.setattr(check_command, "builders_findings", broken)
    result = run("check", FLAWED, SPLITWRIGHT_DEBUG=debug)
    assert (result.exit_code, result.stdout) == (4, "")
    last = result.stderr.splitlines()[-1]
    assert last.startswith("splitwright: internal error (ZeroDivisionError: a fault of ours); please report it")
    assert ("Traceback" in result.stderr) is bool(debug)
    assert (result.stderr.count("\n") == 1) is not bool(debug)


def test_the_installed_program_runs_the_entry_point() -> None:
    (installed,) = entry_points(group="console_scripts", name="splitwright")
    assert installed.load() is main


def test_ctrl_c_while_loading_is_one_line(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    class Loading(ModuleType):
        def __getattr__(self, name: str) -> object:
            raise KeyboardInterrupt

    monkeypatch.setitem(sys.modules, "splitwright.app", Loading("splitwright.app"))
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 3
    assert capsys.readouterr().err == "splitwright: interrupted\n"


def test_ctrl_c_elsewhere_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(check_command, "builders_findings", interrupted)
    result = run("check", FLAWED)
    assert (result.exit_code, result.stdout, result.stderr) == (3, "", "splitwright: interrupted\n")
