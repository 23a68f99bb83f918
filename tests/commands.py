"""How tests run the commands: in this process, or as a user does; and the layouts that they run them on."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from typer.testing import CliRunner, Result

from sim.datafiles import data_dir
from sim.world.files.schema import StrictValidator
from splitwright.app import app

REPOSITORY = Path(__file__).resolve().parent.parent
LAYOUTS = REPOSITORY / "specs" / "layouts"
WAIT_S = 90.0
ROW = str(LAYOUTS / "burst-row-of-three.plan")
UNEVEN = str(LAYOUTS / "row-of-three-unlocked.plan")
FLAWED = str(LAYOUTS / "touching-runs.plan")

TOLD = re.compile(
    r"after \d+\.\d s: \d+ x \d+ x \d+ = \d+ cells, \d+ parts, [a-z ]+ row, "
    r"even for (full loads|any arrivals tried); confirmed"
)
OSCILLATOR = """splitwright-plan/1
title An inverter that reads itself
layer 0
.  iE #  -  -
.  -  .  .  -
.  -  -  -  -
"""

UPHILL = """title = "Clay for eight kilns up a slope"
[split]
outputs = 8
[site]
size = [8, 8, 5]
[streams.feed]
item = "clay"
outputs_at = [[1, 1, 0], [2, 1, 0], [2, 2, 0], [3, 2, 0], [3, 3, 0], [4, 3, 0], [4, 4, 0], [5, 4, 0]]
"""
"""A spec for which no build is known, and which no search settles in a moment."""


def run(*words: str, **env: str | None) -> Result:
    """A command in this process, on a wide page without colours unless ``env`` says otherwise."""
    page: dict[str, str | None] = {"COLUMNS": "200", "FORCE_COLOR": None, "NO_COLOR": None, "SPLITWRIGHT_DEBUG": None}
    return CliRunner(env={**page, **env}).invoke(app, words)


def document(result: Result, schema: str) -> dict[str, Any]:
    """The one JSON document on standard output, which follows the published schema."""
    assert result.stdout.count("\n") == 1, "one document on one line"
    found: dict[str, Any] = json.loads(result.stdout)
    assert faults(found, schema) == []
    return found


def faults(found: Any, schema: str) -> list[str]:
    """What the published schema (read from its file) finds wrong."""
    published = json.loads((data_dir("schema") / f"{schema}.json").read_text(encoding="utf-8"))
    StrictValidator.check_schema(published)
    return [error.message for error in StrictValidator(published).iter_errors(found)]


def command_line(*words: str) -> list[str]:
    """What a user types, for this interpreter."""
    return [sys.executable, "-m", "splitwright", *words]


def environment(**more: str) -> dict[str, str]:
    """The environment of a user without any of the switches that change how output looks."""
    dropped = {"NO_COLOR", "FORCE_COLOR", "COLUMNS", "SPLITWRIGHT_DEBUG"}
    return {**{name: value for name, value in os.environ.items() if name not in dropped}, **more}


def run_as_user(*words: str, **more: str) -> subprocess.CompletedProcess[str]:
    """A command in a process of its own, with pipes for standard output and standard error."""
    return subprocess.run(
        command_line(*words),
        cwd=REPOSITORY,
        env=environment(**more),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def told(stderr: str) -> list[str]:
    """The lines on layouts as they came; nothing else may be there."""
    lines = stderr.splitlines()
    assert all(TOLD.fullmatch(line) for line in lines), stderr
    return lines


def started(running: list[subprocess.Popen[str]], *words: str) -> subprocess.Popen[str]:
    """A command at work, in a process of its own, that can be sent Ctrl-C; ``running`` is the fixture that ends it."""
    process = subprocess.Popen(
        command_line(*words), cwd=REPOSITORY, env=environment(),
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # ignored where tests run in the background
    )  # fmt: skip
    running.append(process)
    return process


def waited_for(process: subprocess.Popen[str], there: Callable[[], bool]) -> None:
    """Until it is there; a bound on the wait keeps a broken run from hanging."""
    end = time.monotonic() + WAIT_S
    while not there():
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < end, "it never came"
        time.sleep(0.02)
