"""Lines of a plan, one by one: what each kind of line states. Faults name no line; the reader adds it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from sim.errors import InputError
from sim.world.files.places import shown
from sim.world.files.plan_cells import EMPTY, cell_fault, is_cell
from sim.world.files.plan_words import INNER_KEYWORDS, Word, cell_in, name_in, number_in, stood, unknown
from sim.world.geometry import Cell
from sim.world.parts import Holds, Slot
from sim.world.rulebook import OVERRIDABLE

ITEM_WORDS: Final = INNER_KEYWORDS[:3]


def title_of(line: str, words: list[Word]) -> str:
    """``title TEXT``: the line's text as it stands, or one word in quotes. ``words``: those after the keyword."""
    if not words:
        return ""
    if not words[0].quoted:
        return line[words[0].start : words[-1].end]
    if len(words) > 1:
        raise InputError(f"a title in quotes ends with them, but {shown(words[1].text)} follows")
    return words[0].text


def item_of(words: list[Word]) -> tuple[str, dict[str, Any]]:
    """``item NAME [stack N] [fires-to KIND] [burn N]``: name and document."""
    name = name_in(words[0] if words else None, "the item's name")
    item: dict[str, Any] = {}
    rest = iter(words[1:])
    for word in rest:
        if word.quoted or word.text not in ITEM_WORDS:
            raise unknown(word, ITEM_WORDS)
        key = word.text.replace("-", "_")
        if key in item:
            raise InputError(f"{word.text} stands twice; keep one")
        value = next(rest, None)
        item[key] = name_in(value, "the kind it fires to") if key == "fires_to" else number_in(value, word.text)
    return name, item


def stream_of(words: list[Word]) -> dict[str, Any]:
    """``stream NAME ITEM from CELL to CELL...``: the document."""
    rest = iter(words)
    stream: dict[str, Any] = {"name": name_in(next(rest, None), "the stream's name")}
    stream["item"] = name_in(next(rest, None), "the stream's item")
    _expect(rest, "from")
    stream["source"] = cell_in(next(rest, None), "the source")
    _expect(rest, "to")
    stream["outputs"] = [cell_in(word, "an output") for word in rest]
    if not stream["outputs"]:
        raise InputError("must name one or more output cells x,y,z after to")
    return stream


def _expect(words: Iterator[Word], due: str) -> None:
    word = next(words, None)
    if word is None or word.quoted or word.text != due:
        raise InputError(f'"{due}" is due in: stream NAME ITEM from CELL to CELL...{stood(word)}')


def holds_of(words: list[Word]) -> tuple[Cell, Holds]:
    """``holds CELL SLOT...``: the container's cell and its slots."""
    x, y, z = cell_in(words[0] if words else None, "the container")
    holds = tuple(_slots(words[1:]))
    if not holds:
        raise InputError("must list the slots after the cell, as in holds 1,0,2 clay 64 63 . charcoal 5")
    return (x, y, z), holds


def _slots(words: list[Word]) -> Iterator[Slot | None]:
    """Kinds followed by their counts, one a slot; a lone ``.`` is an empty slot."""
    kind: str | None = None
    counted = True
    for word in words:
        if not word.quoted and word.text == EMPTY and counted:
            yield None
        elif word.is_number and kind is not None:
            counted = True
            yield kind, number_in(word, "a count")
        elif not counted:
            raise InputError(f"a count must follow the kind {shown(kind)}, not {shown(word.text)}")
        else:
            kind, counted = name_in(word, "a kind of item"), False
    if not counted:
        raise InputError(f"a count must follow the kind {shown(kind)}")


def rule_of(words: list[Word]) -> tuple[str, int]:
    """``rule NAME VALUE``."""
    if not words:
        raise InputError("the rule's name is missing at the end of the line")
    name = words[0].text
    if name not in OVERRIDABLE:
        raise unknown(words[0], OVERRIDABLE, "rule")
    value = number_in(words[1] if len(words) > 1 else None, f"rule {name}")
    _end(words[2:])
    return name, value


def order_of(words: list[Word]) -> Iterator[Cell]:
    """``order CELL...``."""
    if not words:
        raise InputError("must list cells x,y,z")
    for word in words:
        x, y, z = cell_in(word, "an entry")
        yield x, y, z


def layer_of(words: list[Word]) -> int:
    """``layer NUMBER``."""
    layer = number_in(words[0] if words else None, "the layer")
    _end(words[1:])
    return layer


def _end(words: list[Word]) -> None:
    if words:
        raise InputError(f"{shown(words[0].text)} is too much; the line must end before it")


def row_of(line: str) -> tuple[list[str], str]:
    """The cells of a row, and the word that made a lone ``#`` before it the start of a comment ("" for none).

    A comment starts at a word that begins with ``#`` and goes on, or else, where a word is no cell, at the last lone
    ``#`` before it. Raises InputError for a word that is no cell and in no comment.
    """
    cells = line.split()
    comment = next((i for i, word in enumerate(cells) if word[0] == "#" and len(word) > 1), None)
    cells = cells[:comment]
    wrong = next((i for i, word in enumerate(cells) if not is_cell(word)), None)
    if wrong is None:
        return cells, ""
    if "#" not in cells[:wrong]:
        raise InputError(cell_fault(cells[wrong]))
    lone = wrong - 1 - cells[:wrong][::-1].index("#")
    return cells[:lone], cells[wrong]
