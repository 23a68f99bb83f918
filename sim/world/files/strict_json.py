"""JSON text to values, with what the plain reader lets pass refused: repeated keys, numbers without an end."""

from __future__ import annotations

import json
from collections import Counter
from typing import Any, Final

from sim.errors import InputError
from sim.world.files.places import Place, entries_of, json_place

DIGITS_MOST: Final = 1000
"""Digits of a number that are looked at. Whoever has more is far out of every range, and is told so."""


class _Repeating(dict[str, Any]):
    """An object of which one key stood twice."""

    repeated: str


def parse_json(text: str) -> Any:
    """The value that ``text`` states.

    Raises InputError, with line and column or the field, when it is no JSON or a key stands twice in one object.
    """
    repeating: list[_Repeating] = []

    def taken(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        taken_object = dict(pairs)
        if len(taken_object) == len(pairs):
            return taken_object
        marked = _Repeating(taken_object)
        counts = Counter(key for key, _ in pairs)
        marked.repeated = next(key for key, count in counts.items() if count > 1)
        repeating.append(marked)
        return marked

    try:
        value = json.loads(text, object_pairs_hook=taken, parse_int=lambda digits: int(digits[:DIGITS_MOST]))
        if repeating:
            place = _place_of_repeated(value, ())
            raise InputError("stands twice in one object; keep one", field=json_place(place))
    except json.JSONDecodeError as error:
        fault = f"is no JSON: {error.msg[:1].lower()}{error.msg[1:]}"
        raise InputError(fault, field=f"line {error.lineno}, column {error.colno}") from None
    except RecursionError:
        raise InputError("is nested too deeply") from None
    return value


def _place_of_repeated(value: Any, place: Place) -> Place:
    """Place of the first repeated key; the outermost where there are several, () where there is none."""
    if isinstance(value, _Repeating):
        return (*place, value.repeated)
    for way, entry in entries_of(value):
        found = _place_of_repeated(entry, (*place, way))
        if found:
            return found
    return ()
