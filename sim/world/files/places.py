"""Places inside a document, and how a fault names them."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from math import prod
from typing import Any, Final

Place = tuple[str | int, ...]
"""The way from a document's top to a value in it: ("parts", 3, "at")."""
Where = Callable[[Place], str]
"""Tells a user where a place is: ``parts[3].at`` in JSON, ``line 12`` in a plan."""

SHOWN_MOST: Final = 60
"""Longest value that a fault quotes in full."""


def json_place(place: Place) -> str:
    """``parts[3].at``; a key that is no plain word stands quoted in brackets."""
    text = ""
    for way in place:
        if isinstance(way, str) and way.replace("-", "_").isidentifier():
            text += f".{way}"
        else:
            text += f"[{shown(way)}]"
    return text.removeprefix(".")


def shown(value: Any) -> str:
    """A value as a fault quotes it: on one line, cut when long, and without any character that does not print."""
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, (list, tuple)):
        short = len(value) <= 4 and not any(isinstance(entry, (dict, list, tuple)) for entry in value)
        return "[" + ", ".join(shown(entry) for entry in value) + "]" if short else f"a list of {len(value)}"
    text = printable(json.dumps(value, ensure_ascii=False, default=repr))
    return text if len(text) <= SHOWN_MOST else text[: SHOWN_MOST - 1] + "…"


def printable(text: str) -> str:
    """``text`` with every character that does not print escaped as in JSON."""
    if text.isprintable():
        return text
    return "".join(char if char.isprintable() else _escaped(char) for char in text)


def _escaped(char: str) -> str:
    halves = char.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{halves[i]:02x}{halves[i + 1]:02x}" for i in range(0, len(halves), 2))


def entries_of(value: Any) -> Iterable[tuple[Any, Any]]:
    """The keys and values of an object, the indices and values of a list; nothing of anything else."""
    if isinstance(value, dict):
        return value.items()
    return enumerate(value) if isinstance(value, list) else ()


def with_article(noun: str) -> str:
    """``a bin``, ``an inverter``."""
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


def counted(number: int, thing: str) -> str:
    """``1 row``, ``2 rows``."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def box_text(box: Iterable[int]) -> str:
    """``4 x 3 x 4``: width, depth and height in cells."""
    return " x ".join(map(str, box))


def build_text(box: tuple[int, int, int], parts: int) -> str:
    """``4 x 3 x 4 = 48 cells, 26 parts``."""
    return f"{box_text(box)} = {prod(box)} cells, {counted(parts, 'part')}"


def one_of(words: tuple[str, ...] | list[str]) -> str:
    """``E, W or N``."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " or " + words[-1]


def all_of(words: tuple[str, ...] | list[str]) -> str:
    """``E, W and N``."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
