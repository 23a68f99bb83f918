"""What every test shares: where the clone stands, and how hypothesis runs."""

from __future__ import annotations

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
