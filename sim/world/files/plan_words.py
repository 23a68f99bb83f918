"""Words of a plan's lines: blanks part them, double quotes hold together what blanks or ``#`` would part."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from json.decoder import JSONDecoder
from typing import Final

from sim.errors import InputError, nearest
from sim.world.files.places import printable, shown

PLAN_FORMAT: Final = "splitwright-plan/1"
KEYWORDS: Final = ("title", "item", "stream", "holds", "rule", "order", "layer")
"""First words of lines."""
INNER_KEYWORDS: Final = ("stack", "fires-to", "burn", "from", "to")
"""Words inside lines; a name that is one of them stands in quotes."""
DIGITS_MOST: Final = 1000
"""Digits of a number that are looked at; more are far out of every range."""

_NUMBER: Final = re.compile(r"-?[0-9]+")
_CELL: Final = re.compile(r"(-?[0-9]{1,9}),(-?[0-9]{1,9}),(-?[0-9]{1,9})")
_LIKE_A_NUMBER: Final = re.compile(r"[-+]?[0-9.,]+")
_WORD: Final = re.compile(r"\S+")
_QUOTED: Final = JSONDecoder(strict=False)


@dataclass(frozen=True, slots=True)
class Word:
    """A word, whether it stood in quotes, and the columns that it fills in its line."""

    text: str
    quoted: bool
    start: int
    end: int

    @property
    def is_number(self) -> bool:
        """A whole number."""
        return not self.quoted and _NUMBER.fullmatch(self.text) is not None


def words_of(line: str) -> list[Word]:
    """The words of a line up to its comment. Raises InputError when a quote does not end."""
    words: list[Word] = []
    position = 0
    while match := _WORD.search(line, position):
        start = match.start()
        if line[start] == "#":
            break
        word = _quoted(line, start) if line[start] == '"' else Word(match.group(), False, start, match.end())
        words.append(word)
        position = word.end
    return words


def _quoted(line: str, start: int) -> Word:
    try:
        text, end = _QUOTED.raw_decode(line, start)
    except json.JSONDecodeError as error:
        why = error.msg.lower().removesuffix(" starting at")
        fault = f"{shown(line[start:])}: the quotes do not hold a JSON string: {why}"
        raise InputError(fault) from None
    if end < len(line) and not line[end].isspace():
        raise InputError(f"{shown(line[start : end + 1])}: a blank must stand after the closing quote")
    return Word(text, True, start, end)


def number_in(word: Word | None, what: str) -> int:
    """The whole number that ``word`` is; ``what`` names it in the fault."""
    if word is None or not word.is_number:
        raise InputError(f"{what} must be a whole number{stood(word)}")
    return int(word.text[:DIGITS_MOST])


def cell_in(word: Word | None, what: str) -> list[int]:
    """The cell that ``word`` states as ``x,y,z``."""
    match = _CELL.fullmatch(word.text) if word and not word.quoted else None
    if match is None:
        raise InputError(f"{what} must be a cell x,y,z without blanks{stood(word)}")
    return [int(number) for number in match.groups()]


def name_in(word: Word | None, what: str) -> str:
    """The name that ``word`` is: bare, or in quotes where it would pass for a number or a word of the plan."""
    if word is None:
        raise InputError(f"{what} is missing at the end of the line")
    if not word.quoted and _is_reserved(word.text):
        raise InputError(f"{what} is due where {shown(word.text)} stands (a name like that must be in quotes)")
    return word.text


def stood(word: Word | None) -> str:
    """``, not "x"`` or that the line ends."""
    return f", not {shown(word.text)}" if word else "; the line ends before it"


def unknown(word: Word, known: tuple[str, ...], what: str = "word") -> InputError:
    """The fault of a word that is none of the known ones."""
    return InputError(f"unknown {what} {shown(word.text)}; {nearest(word.text, known)}")


def written(name: str) -> str:
    """A name as a plan states it: bare where it reads back the same, else in quotes."""
    bare = bool(name) and name.isprintable() and not re.search(r'[\s"#]', name) and not _is_reserved(name)
    return name if bare else quoted(name)


def written_title(title: str) -> str:
    """A title as a plan states it: bare, blanks and all, where it reads back the same, else in quotes."""
    bare = bool(title) and title.isprintable() and title == title.strip() and not re.search(r'["#]', title)
    return title if bare else quoted(title)


def quoted(text: str) -> str:
    """``text`` as a JSON string that fits on one line."""
    return printable(json.dumps(text, ensure_ascii=False))


def _is_reserved(text: str) -> bool:
    return text in INNER_KEYWORDS or _LIKE_A_NUMBER.fullmatch(text) is not None
