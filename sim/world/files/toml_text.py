"""TOML text to values, with what no file of ours holds refused: dates, numbers without an end, endless nesting."""

from __future__ import annotations

import re
import tomllib
from datetime import date, time
from typing import Any, Final

from sim.errors import InputError
from sim.world.files.places import Place, entries_of, json_place

CHARACTERS_MOST: Final = 200_000
"""Longest text that is read: a bound on time."""
DOTS_MOST: Final = 300
"""Dots in one line. A key of n dotted names costs the parser time and memory of the order of n squared."""
BITS_MOST: Final = 3000
"""Bits of a number that are looked at; whoever has more is far out of every range."""

_LOCATED: Final = re.compile(
    r"(?P<fault>.*) \(at (?P<place>line (?P<line>\d+), column \d+|end of document)\)", re.DOTALL
)
_PLAINER: Final = {
    "Cannot overwrite a value": "a key stands twice; keep one",
    "Cannot declare": "a table stands twice; keep one",
    "Cannot mutate immutable namespace": "a key adds to a table that } has closed; write it within the braces",
}
"""What the parser says, by its first words, of text that is no slip of notation; it tells only the line for certain."""


def parse_toml(text: str) -> dict[str, Any]:
    """The document that ``text`` states, of tables, lists, text, numbers and booleans only.

    Raises InputError, with line and column or the field, when it is no TOML or holds what no file of ours does.
    """
    if len(text) > CHARACTERS_MOST:
        raise InputError(f"is longer than {CHARACTERS_MOST} characters, the most that is read")
    for number, line in enumerate(text.splitlines(), start=1):
        if line.count(".") > DOTS_MOST:
            raise InputError(f"has more than {DOTS_MOST} dots; no key is that long", field=f"line {number}")
    try:
        document = tomllib.loads(text)
        fault = _unfit(document, ())
    except tomllib.TOMLDecodeError as error:
        raise _told(str(error)) from None
    except ValueError:  # not of TOML's making: Python refuses to read thousands of digits
        raise InputError("is no TOML: a number has too many digits") from None
    except RecursionError:
        raise InputError("is nested too deeply") from None
    if fault:
        raise InputError(fault[1], field=json_place(fault[0]))
    return document


def _told(message: str) -> InputError:
    located = _LOCATED.fullmatch(message)
    fault, field = (located["fault"], located["place"]) if located else (message, "")
    for start, plainer in _PLAINER.items():
        if fault.startswith(start):
            return InputError(plainer, field=f"line {located['line']}" if located and located["line"] else field)
    return InputError(f"is no TOML: {fault[:1].lower()}{fault[1:]}", field=field)


def _unfit(value: Any, place: Place) -> tuple[Place, str] | None:
    """The first value that no file of ours holds, by place; linear in the number of values."""
    if isinstance(value, (date, time)):
        return place, "is a date or time; none is due (text stands in quotes)"
    if isinstance(value, int) and value.bit_length() > BITS_MOST:
        return place, "has too many digits"
    for way, entry in entries_of(value):
        found = _unfit(entry, (*place, way))
        if found:
            return found
    return None
