"""Any layout file to a layout: finds out which form it has, and says in one line why it cannot be read."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Final

from sim.errors import InputError
from sim.world.files.layout_json import layout_from_json
from sim.world.files.places import printable
from sim.world.files.plan import layout_from_plan
from sim.world.files.plan_words import PLAN_FORMAT
from sim.world.files.text import read_text
from sim.world.layout import Layout
from sim.world.rulebook import Rules

DUE: Final = "a layout is JSON or a plan"

Reader = Callable[[str, Rules | None], Layout]


def load_layout(path: str | os.PathLike[str], base: Rules | None = None) -> Layout:
    """The layout in the file at ``path``: ``.json`` or ``.plan``, else by what its first text is.

    ``base``: the rulebook that the layout overrides. Raises InputError that names the file.
    """
    name = os.fspath(path)
    try:
        text = read_text(name, DUE)
        return _reader_of(name, text)(text, base)
    except InputError as error:
        raise error.within(printable(name)) from None


def _reader_of(name: str, text: str) -> Reader:
    suffix = Path(name).suffix.lower()
    if suffix == ".plan":
        return layout_from_plan
    first = _first_text(text)
    if suffix == ".json":
        if first.startswith(PLAN_FORMAT):
            raise InputError("holds a plan; name the file .plan")
        return layout_from_json
    if first.startswith("{"):
        return layout_from_json
    if first.startswith(PLAN_FORMAT):
        return layout_from_plan
    raise InputError(f"is no layout; the first text must be {{ for JSON, or {PLAN_FORMAT} for a plan")


def _first_text(text: str) -> str:
    """The text from its first character that is neither blank nor in a comment line."""
    rest = text.lstrip()
    while rest.startswith("#"):
        rest = rest.partition("\n")[2].lstrip()
    return rest
