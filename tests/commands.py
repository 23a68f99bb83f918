"""How tests run the commands: in this process, or as a user does; and the layouts that they run them on."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from typer.testing import CliRunner, Result

from sim.datafiles import data_dir
from sim.files.schema import StrictValidator
from splitwright.app import app

REPOSITORY = Path(__file__).resolve().parent.parent
LAYOUTS = REPOSITORY / "specs" / "layouts"
ROW = str(LAYOUTS / "burst-row-of-three.plan")
UNEVEN = str(LAYOUTS / "row-of-three-unlocked.plan")
FLAWED = str(LAYOUTS / "touching-runs.plan")

OSCILLATOR = """splitwright-plan/1
title An inverter that reads itself
layer 0
.  iE #  -  -
.  -  .  .  -
.  -  -  -  -
"""
# The layout of the formats page, "Layout", as it stands there.
ONE_KILN = """{"format": "splitwright-layout/1", "title": "One kiln, clay", "size": [4, 2, 3],
 "items": {"clay": {"stack": 64, "fires_to": "brick"}, "charcoal": {"stack": 64, "burn": 1600}, "brick": {"stack": 64}},
 "parts": [{"kind": "bin", "at": [0, 0, 2], "finish": "plain"},
           {"kind": "node", "at": [0, 0, 1], "outlet": "E"},
           {"kind": "node", "at": [1, 0, 1], "outlet": "D", "holds": [["clay", 2], null]},
           {"kind": "furnace", "at": [1, 0, 0]},
           {"kind": "support", "at": [2, 0, 0]}, {"kind": "gauge", "at": [2, 0, 1], "output": "E"},
           {"kind": "support", "at": [3, 0, 1]}, {"kind": "inverter", "at": [3, 1, 1], "mount": "S"},
           {"kind": "line", "at": [3, 1, 0]},
           {"kind": "support", "at": [2, 1, 0]}, {"kind": "relay", "at": [2, 1, 1], "output": "W", "delay": 2},
           {"kind": "support", "at": [1, 1, 1]}],
 "streams": [{"name": "feed", "item": "clay", "source": [0, 0, 2], "outputs": [[1, 0, 0]]}],
 "rules": {"handover": 8}}
"""


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
