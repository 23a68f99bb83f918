"""No word in the tree recalls a known product: the workplace's own checker says so where it is at hand."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest


def test_no_borrowed_words(repository: Path) -> None:
    checker = repository.parent / "shared" / "tools" / "borrowed-words"
    if not checker.is_file():
        pytest.skip("the checker is not beside this clone")
    if not (repository / ".git").exists():
        pytest.skip("the checker reads git's list of files, and this is no clone")
    run = subprocess.run([sys.executable, str(checker), str(repository)], capture_output=True, text=True, check=False)
    assert run.stdout + run.stderr == ""
    assert run.returncode == 0
