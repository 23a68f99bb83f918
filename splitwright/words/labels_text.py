"""A labels file written out, for people to fill in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from sim.world.geometry import ALL_DIRECTIONS
from sim.world.parts import PART_KINDS
from splitwright.words.catalogue import catalogue
from splitwright.words.toml_writing import toml_key, toml_value

ABOUT: Final = {
    "parts": "one, or one and several",
    "items": "as they stand in the layout",
    "directions": "the name, and the letter on plans",
    "phrases": "keep the {fields}; leave out what is to stay as it is",
}
"""What is said above each table."""
NAMES: Final = frozenset(
    [f"part.{kind}" for kind in PART_KINDS]
    + [f"{family}.{way}" for family in ("direction", "letter") for way in ALL_DIRECTIONS]
)
"""Phrases that the other tables set (``part.cell`` and ``part.ground`` are no kinds of parts)."""


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
        document["phrases"] = {key: text for key, text in known.items() if key not in NAMES}
    return document


def labels_text(document: Mapping[str, Any], *, comments: bool = True) -> str:
    """The document as TOML, with a word on each table."""
    return "\n".join(_lines(document, comments)) + "\n"


def _lines(document: Mapping[str, Any], comments: bool) -> Iterator[str]:
    for name, value in document.items():
        if not isinstance(value, dict):
            yield f"{name} = {toml_value(value)}"
            continue
        yield ""
        yield f"[{name}]" + (f"        # {ABOUT[name]}" if comments and name in ABOUT else "")
        for key, entry in value.items():
            yield f"{toml_key(key)} = {toml_value(entry)}"
