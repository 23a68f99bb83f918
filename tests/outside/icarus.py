"""Runs Verilog text with Icarus Verilog (Debian package iverilog), in the language of IEEE Std 1364-2005."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

needs_iverilog = pytest.mark.skipif(
    shutil.which("iverilog") is None or shutil.which("vvp") is None,
    reason="needs Icarus Verilog: apt-get install iverilog (.ci/run installs it)",
)


def simulated(source: str, folder: Path) -> list[str]:
    """The lines that the Verilog ``source`` displays; fails on any complaint of the compiler or the run."""
    text, program = folder / "network.v", folder / "network.vvp"
    text.write_text(source, encoding="ascii")
    _run(["iverilog", "-g2005", "-Wall", "-Wno-timescale", "-o", str(program), str(text)])
    return _run(["vvp", "-n", str(program)]).splitlines()


def _run(command: list[str]) -> str:
    run = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert (run.returncode, run.stderr) == (0, ""), f"{command[0]}: {run.stderr}"
    return run.stdout
