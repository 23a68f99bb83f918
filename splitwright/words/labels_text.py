"""A labels file written out, for people to fill in."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from sim.geometry import ALL_DIRECTIONS
from sim.parts import PART_KINDS
from splitwright.words.catalogue import catalogue

ABOUT: Final = {
    "parts": "one, or one and several",
    "items": "as they stand in the layout",
    "directions": "the name, and the letter on plans",
    "phrases": "keep the {fields}; leave out what is to stay as it is",
}
"""What is said above each table."""
FAMILIES_OF_NAMES: Final = ("part.", "direction.", "letter.")
"""Phrases that the other tables set."""


def labels_document(language: str, items: Iterable[str], *, phrases: bool = False) -> dict[str, Any]:
    """A labels file that changes nothing: every name as it is in a known language. Raises KeyError for another."""
    known = catalogue(language)
    document: dict[str, Any] = {
        "language": language,
        "parts": {kind: [form.strip() for form in known[f"part.{kind}"].split("|")] for kind in PART_KINDS},
        "items": {kind: kind for kind in items},
        "directions": {
            way: {"name": known[f"direction.{way}"], "letter": known[f"letter.{way}"]} for way in ALL_DIRECTIONS
        },
    }
    if phrases:
        document["phrases"] = {key: text for key, text in known.items() if not key.startswith(FAMILIES_OF_NAMES)}
    return document


def labels_text(document: Mapping[str, Any], *, comments: bool = True) -> str:
    """The document as TOML, with a word on each table."""
    return "\n".join(_lines(document, comments)) + "\n"


def _lines(document: Mapping[str, Any], comments: bool) -> Iterator[str]:
    for name, value in document.items():
        if not isinstance(value, dict):
            yield f"{name} = {_toml(value)}"
            continue
        yield ""
        yield f"[{name}]" + (f"        # {ABOUT[name]}" if comments and name in ABOUT else "")
        for key, entry in value.items():
            yield f"{key if key.isidentifier() and key.isascii() else _toml(key)} = {_toml(entry)}"


def _toml(value: Any) -> str:
    """TOML's basic strings, arrays and inline tables: strings are written as in JSON, which is a part of TOML's form
    but for DEL (TOML 1.0.0, "String")."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_toml(entry)}" for key, entry in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
