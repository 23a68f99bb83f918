"""Options that several commands share, and how their values are read."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Annotated, Final

import typer

from sim.errors import InputError, nearest
from sim.world.files.places import shown
from sim.world.layout import Layout

DIGITS_MOST: Final = 18
"""Longest number that is looked at: every range is far smaller."""

LayoutFile = Annotated[Path, typer.Argument(metavar="LAYOUT", help="A layout: a .json or .plan file.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document, and nothing else, on standard output.")]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Print the answer alone: no tables, notes or progress.")]

Verbose = Annotated[bool, typer.Option("--verbose", "-v", help="Print more: every table, and what stands behind it.")]

Labels = Annotated[
    Path | None,
    typer.Option(
        "--labels",
        metavar="FILE.toml",
        show_default=False,
        help="House names for parts, items and directions, and a language.",
    ),
]


def whole_number(option: str, least: int, most: int) -> Callable[[str | int], int]:
    """A reader of an option's value; it raises InputError unless that is a whole number from ``least`` to ``most``."""

    def read(text: str | int) -> int:  # typer hands defaults over too
        return number_from(str(text), least, most, option)

    return read


def number_from(text: str, least: int, most: int, option: str) -> int:
    """The whole number that ``text`` states. Raises InputError in the name of ``option``."""
    if re.fullmatch(rf"[0-9]{{1,{DIGITS_MOST}}}", text) and least <= int(text) <= most:
        return int(text)
    raise InputError(f"must be a whole number from {least} to {most}, not {shown(text)}", file=option)


def loads_from(words: Iterable[str], layout: Layout, most: int) -> dict[str, int]:
    """The loads that ``--load NAME=N`` options state, by stream.

    Raises InputError for another form, an unknown or repeated stream, or N outside 0 to ``most``.
    """
    names = [stream.name for stream in layout.streams]
    loads: dict[str, int] = {}
    for word in words:
        name, equals, count = word.rpartition("=")
        if not equals:
            example = names[0] if names else "NAME"
            raise InputError(f"must be NAME=N, as in {example}=54, not {shown(word)}", file="--load")
        if name not in names:
            hint = nearest(name, names) if names else "it has no streams"
            raise InputError(f"the layout has no stream {shown(name)}; {hint}", file="--load")
        if name in loads:
            raise InputError(f"{shown(name)} is given twice; keep one", file="--load")
        loads[name] = number_from(count, 0, most, f"--load {name}")
    return loads
