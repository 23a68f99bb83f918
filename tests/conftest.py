"""What every test shares: where the clone stands, and how hypothesis runs."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

# The same examples in every run, so that a red build is red again; no deadline, since the cores are shared.
settings.register_profile("splitwright", deadline=None, derandomize=True)
settings.load_profile("splitwright")


@pytest.fixture(scope="session")
def repository() -> Path:
    """The folder of the clone."""
    return Path(__file__).resolve().parent.parent


@pytest.fixture
def running() -> Iterator[list[subprocess.Popen[str]]]:
    """Processes that are ended with the test."""
    processes: list[subprocess.Popen[str]] = []
    yield processes
    for process in processes:
        if process.poll() is None:
            process.kill()
            process.communicate()
