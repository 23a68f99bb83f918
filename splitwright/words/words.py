"""Statements and phrases into text: one language, with house names over it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import groupby
from string import Formatter
from typing import Final

from sim.world.geometry import Cell, Direction, cell_text
from sim.world.layout import Layout
from sim.world.statement import ItemWord, Mention, Statement, Toward, Value
from splitwright.words.catalogue import catalogue
from splitwright.words.items import items_of
from splitwright.words.said import Piece, Said

CELLS_SHOWN: Final = 6
"""Cells of a list that are written out; a list that is longer ends in "and N more" (all of them are pointed to)."""

ONE, MANY, TOWARD = "one", "many", "toward"


def is_noun(field: str) -> bool:
    """A field of a phrase stands for a kind of part or a direction, whatever the phrase is filled with."""
    return field.partition(".")[0] in (ONE, MANY, TOWARD) and "." in field


@dataclass(frozen=True)
class Words:
    """``language``: a BCP 47 tag. ``phrases``: templates by key; the house's own stand in place of the catalogue's.

    ``items``: house names of item kinds; a kind that it does not name keeps the name it has in the layout.
    """

    language: str
    phrases: Mapping[str, str]
    items: Mapping[str, str] = field(default_factory=dict)

    def part(self, kind: str, count: int = 1) -> str:
        """The word for a kind of part, for one or for several. Raises KeyError for no known kind."""
        one, bar, many = self.phrases[f"part.{kind}"].partition("|")
        return one.strip() if count == 1 or not bar else many.strip()

    def item(self, kind: str) -> str:
        """The word for an item kind."""
        return self.items.get(kind, kind)

    def unknown_items(self, *layouts: Layout) -> list[str]:
        """The item kinds that have a house name though none of the layouts has them: slips of the pen, or names for
        other layouts. In the order of the labels file."""
        known = set[str]().union(*map(items_of, layouts))
        return [kind for kind in self.items if kind not in known]

    def direction(self, direction: Direction) -> str:
        """The word for a direction."""
        return self.phrases[f"direction.{direction}"]

    def letter(self, direction: Direction) -> str:
        """The letters that stand for a direction on plans."""
        return self.phrases[f"letter.{direction}"]

    def number(self, number: int | float, digits: int = 0) -> str:
        """A number as the language writes it, with so many digits after the point."""
        marks = {",": self.phrases["join.thousands"], ".": self.phrases["join.decimal"]}
        return "".join(marks.get(sign, sign) for sign in f"{number:,.{digits}f}")

    def noun(self, field: str) -> str:
        """The word for which such a field stands. Raises KeyError for no kind of part, no direction."""
        family, _, name = field.partition(".")
        if family == TOWARD:
            return self.phrases[f"direction.{name}"]
        return self.part(name, 1 if family == ONE else 2)

    def say(self, what: Statement | str, **values: Value) -> Said:
        """A statement, or the phrase of a key filled with ``values``, as text that points to its cells.

        A phrase may have ``{one.node}`` or ``{many.node}`` for a kind of part, ``{toward.N}`` for a direction, so that
        house names stand there too.
        Raises KeyError for a key or a field that there is not: a fault of ours, never of the user's labels.
        """
        if isinstance(what, Statement):
            return self.say(what.key, **what.values)
        pieces: list[Piece] = []
        for text, name, _, _ in Formatter().parse(self.phrases[what]):
            pieces += [Piece(text)] if text else []
            if name is not None:
                pieces += [Piece(self.noun(name))] if is_noun(name) else self._value(values[name])
        return Said(tuple(pieces))

    def text(self, what: Statement | str, **values: Value) -> str:
        """``say`` as plain text."""
        return str(self.say(what, **values))

    def _value(self, value: Value) -> Iterator[Piece]:
        match value:
            case Mention():
                yield Piece(self._mention("mention", part=self.part(value.kind), cell=cell_text(value.at)), (value.at,))
            case tuple():
                yield from self._mentions(value)
            case ItemWord():
                yield Piece(self.item(value.kind))
            case Toward():
                yield Piece(self.direction(value.direction))
            case int():
                yield Piece(self.number(value))
            case str():
                yield Piece(value)

    def _mentions(self, mentions: tuple[Mention, ...]) -> Iterator[Piece]:
        """``nodes at 1,0,2, 2,0,2 and bin at 0,0,4``: one group for each run of one kind."""
        groups = [tuple(group) for _, group in groupby(mentions, key=lambda one: one.kind)]
        for i, group in enumerate(groups):
            if i:
                yield Piece(self._joint(i == len(groups) - 1))
            if len(group) == 1:
                yield from self._value(group[0])
                continue
            cells = [one.at for one in group]
            text = self._mention("mentions", parts=self.part(group[0].kind, len(group)), cells=self._cells(cells))
            yield Piece(text, tuple(cells))

    def _cells(self, cells: Sequence[Cell]) -> str:
        """``1,0,2 and 2,0,2``, or the first ones and how many more."""
        texts = [cell_text(cell) for cell in cells]
        if len(texts) > CELLS_SHOWN + 1:
            first = self._joint(False).join(texts[:CELLS_SHOWN])
            return self._mention("others", first=first, count=self.number(len(texts) - CELLS_SHOWN))
        return self._joint(False).join(texts[:-1]) + self._joint(True) + texts[-1]

    def _joint(self, is_last: bool) -> str:
        return self._mention("two" if is_last else "more", first="", second="")

    def _mention(self, key: str, **fields: str) -> str:
        return self.phrases[f"join.{key}"].format(**fields)


@cache
def english() -> Words:
    """The words that splitwright has of its own, without any labels file."""
    return Words("en", catalogue("en"))
