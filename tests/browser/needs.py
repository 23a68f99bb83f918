"""What tests need of the machine: a browser, the Nu checker. Where it is missing a test is skipped, or fails when the
build says that it must be there (``SPLITWRIGHT_REQUIRE_BROWSER=1``, ``SPLITWRIGHT_REQUIRE_NU=1``)."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Final, NoReturn

import pytest

from sim.errors import InputError
from splitwright.commands.sheet.printing import browser_path

REPOSITORY: Final = Path(__file__).resolve().parent.parent.parent
NU_JAR: Final = REPOSITORY / "build" / "nu" / "node_modules" / "vnu-jar" / "build" / "dist" / "vnu.jar"


def needed_browser() -> str:
    """The path of the browser that the command itself would print with."""
    try:
        return browser_path()
    except InputError as fault:
        missing("BROWSER", str(fault))


def needed_nu() -> list[str]:
    """The command that starts the Nu checker of the W3C (npm package vnu-jar)."""
    java, jar = shutil.which("java"), Path(os.environ.get("SPLITWRIGHT_NU_JAR") or NU_JAR)
    if java is None:
        missing("NU", "found no java to run the Nu checker with")
    if not jar.is_file():
        missing("NU", f"found no Nu checker at {jar}: npm install --no-save --prefix build/nu vnu-jar")
    return [java, "-Xss2m", "-XX:TieredStopAtLevel=1", "-XX:+UseSerialGC", "-jar", str(jar)]


def missing(what: str, why: str) -> NoReturn:
    """Skip the test, or fail it where the build demands ``what``."""
    if os.environ.get(f"SPLITWRIGHT_REQUIRE_{what}") == "1":
        pytest.fail(why)
    pytest.skip(why)
