"""Files that a command writes take the place of none that it reads, of one another, or of a file of another kind."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from sim.errors import InputError
from sim.world.files.places import one_of, printable, shown

PAGE: Final = (".html",)
LAYOUT: Final = (".json", ".plan")
LABELS: Final = (".toml",)

_SHARED: Final = {
    ".json": ("layout", re.compile(r'"splitwright-layout/')),
    ".toml": ("labels file", re.compile(r"(?ms)\A(?!.*^format\b).*^(language\b|\[(parts|items|directions|phrases)\b)")),
}
"""Endings that other kinds of files have too: what is written under them, and what an older one of these holds."""


def check_output(
    option: str, path: Path | None, endings: tuple[str, ...], others: Mapping[str, Path | None] | None = None
) -> None:
    """Raises InputError where the file that ``option`` names must not be written: it is one of ``others`` (by what
    they are to the user), has none of the ``endings``, or is there already as a file of another kind.

    What is no regular file (a terminal, a pipe, a folder) is left to whoever writes to it.
    """
    if path is None:
        return
    for what, other in (others or {}).items():
        if other is not None and _is_same(path, other):
            raise InputError(f"is the {what} itself; name another file", file=option)
    if _is_taken_by_none(path):
        return
    check_ending(option, path, endings)
    what, mark = _SHARED.get(path.suffix.lower(), ("", None))
    if mark is not None and path.is_file() and not _holds(path, mark):
        raise InputError(f"{printable(str(path))} is there already and is no {what}; name another file", file=option)


def check_ending(option: str, path: Path, endings: tuple[str, ...]) -> None:
    """Raises InputError unless the name ends in one of ``endings``, in capitals or not."""
    if path.suffix.lower() not in endings:
        raise InputError(f"must end in {one_of(endings)}, not {shown(path.name)}", file=option)


def check_folder(option: str, folder: Path, layout: Path) -> None:
    """Raises InputError where layouts written into ``folder`` by their ranks would take the place of ``layout``."""
    if _is_same(folder, layout.parent) and re.fullmatch(r"layout-\d+\.(json|plan)", layout.name):
        raise InputError(f"holds the layout itself, {shown(layout.name)}; name another folder", file=option)


def _is_taken_by_none(path: Path) -> bool:
    """Something stands there that no file takes the place of."""
    try:
        return path.exists() and not path.is_file()
    except (OSError, ValueError):
        return False


def _holds(path: Path, mark: re.Pattern[str]) -> bool:
    """The file is empty, or ``mark`` is in it."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return False
    return not text or mark.search(text) is not None


def _is_same(one: Path, other: Path) -> bool:
    """They are the same file, or would be: a path that is not there yet counts by what it leads to."""
    try:
        return one.samefile(other)
    except (OSError, ValueError):
        return os.path.realpath(one) == os.path.realpath(other)
