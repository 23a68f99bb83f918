"""What every test shares: where the clone stands, how hypothesis runs, and a cache of its own."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from itertools import count
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


# Machine code of the kernel stays where it is kept for the user: to compile it takes half a minute. What searches keep
# goes elsewhere, for commands in processes of their own too.
os.environ.setdefault("NUMBA_CACHE_DIR", os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache"))


@pytest.fixture(scope="session")
def _caches(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Folders that are not there yet, a new one each time."""
    folder = tmp_path_factory.mktemp("caches")
    return (str(folder / str(number)) for number in count())


@pytest.fixture(scope="module", autouse=True)
def _cache_of_the_module(_caches: Iterator[str]) -> Iterator[None]:
    """For fixtures that tests of a module share."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", next(_caches))
        yield


@pytest.fixture(autouse=True)
def _cache_of_the_test(_caches: Iterator[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """The user's cache is neither read nor written, and no test finds what another one has kept."""
    monkeypatch.setenv("XDG_CACHE_HOME", next(_caches))


@pytest.fixture
def running() -> Iterator[list[subprocess.Popen[str]]]:
    """Processes that are ended with the test."""
    processes: list[subprocess.Popen[str]] = []
    yield processes
    for process in processes:
        if process.poll() is None:
            process.kill()
            process.communicate()
