"""Files that a command writes must not take the place of those that it reads, nor of one another."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from sim.errors import InputError


def check_apart(option: str, path: Path | None, others: Mapping[str, Path | None]) -> None:
    """Raises InputError when the file that ``option`` names is one of ``others`` (by what they are to the user)."""
    for what, other in others.items():
        if path is not None and other is not None and _is_same(path, other):
            raise InputError(f"is the {what} itself; name another file", file=option)


def _is_same(one: Path, other: Path) -> bool:
    """They are the same file, or would be: a path that is not there yet counts by what it leads to."""
    try:
        return one.samefile(other)
    except (OSError, ValueError):
        return os.path.realpath(one) == os.path.realpath(other)
