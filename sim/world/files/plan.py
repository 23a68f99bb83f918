"""``splitwright-plan/1``: the layout as text that people type, read (formats, "Plan").

A plan is turned into the same document as the JSON form and judged by the same checks; only the places are told as
lines. ``plan_lines`` knows what single lines state, ``plan_writer`` goes the other way.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from sim.errors import InputError
from sim.world.files.consistency import check_consistency
from sim.world.files.layout_json import FORMAT, check_head, layout_of
from sim.world.files.places import Place, counted, shown
from sim.world.files.plan_cells import EMPTY, is_cell, part_at
from sim.world.files.plan_lines import holds_of, item_of, layer_of, order_of, row_of, rule_of, stream_of, title_of
from sim.world.files.plan_words import KEYWORDS, PLAN_FORMAT, Word, unknown, words_of
from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Holds, Node, Part
from sim.world.rulebook import Rules


def layout_from_plan(text: str, base: Rules | None = None) -> Layout:
    """The layout that a plan states. ``base``: the rulebook that its ``rule`` lines override.

    Raises InputError whose field is the line, as in ``line 12``. Linear in the length of the text.
    """
    reader = _Reader()
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for number, line in enumerate(lines, 1):
        try:
            reader.take(line, number)
        except InputError as error:
            raise InputError(error.fault, field=error.field or f"line {number}") from None
    reader.end(len(lines))
    check_head(reader.document, reader.where)
    layout = layout_of(reader.document, reader.parts())
    check_consistency(layout, reader.where, base)
    return layout


@dataclass
class _Reader:
    """What has been read so far. ``rows`` lists the filled cells by layer and row (the northmost first).

    ``lines`` are the lines by what they state; ``swallowed`` is the layer's first line that was all comment, with the
    word that made it one.
    """

    document: dict[str, Any] = field(
        default_factory=lambda: {"format": FORMAT, "items": {}, "streams": [], "rules": {}}
    )
    begun: bool = False
    in_layer: bool = False
    first_row: int = 0
    width: int = 0
    depth: int = 0
    rows: list[list[list[tuple[int, str]]]] = field(default_factory=list)
    contents: dict[Cell, Holds] = field(default_factory=dict)
    order: dict[Cell, int] = field(default_factory=dict)
    lines: dict[Place, int] = field(default_factory=dict)
    swallowed: tuple[int, str] | None = None

    def where(self, place: Place) -> str:
        """The line that states ``place``, and what in it: ``line 3, stack``."""
        known = next((n for n in range(len(place), 0, -1) if place[:n] in self.lines), 0)
        inside = [way for way in place[known:] if isinstance(way, str)]
        return ", ".join([f"line {self.lines[place[:known]]}", *inside] if known else inside)

    def take(self, line: str, number: int) -> None:
        """Reads one line."""
        first = line.split(maxsplit=1)[:1]
        if self.in_layer and first and first[0] not in KEYWORDS:
            self._take_row(line, number)
            return
        words = words_of(line)
        if words and self.begun:
            self.in_layer = False
            self._take_head(line, words, number)
        elif words:
            self._begin(line, words)

    def _begin(self, line: str, words: list[Word]) -> None:
        if [word.text for word in words] != [PLAN_FORMAT]:
            hint = " (this looks like JSON: name the file .json)" if line.lstrip()[0] in "{[" else ""
            raise InputError(f"a plan begins with a line {PLAN_FORMAT}, not with {shown(line.strip())}{hint}")
        self.begun = True

    def _take_head(self, line: str, words: list[Word], number: int) -> None:
        keyword, rest = words[0], words[1:]
        if keyword.quoted or keyword.text not in KEYWORDS:
            if is_cell(keyword.text):
                raise InputError("a row of cells stands outside of a layer; a line such as layer 0 must come before it")
            raise unknown(keyword, KEYWORDS)
        match keyword.text:
            case "title":
                self._once(("title",), number, "the title")
                self.document["title"] = title_of(line, rest)
            case "item":
                name, item = item_of(rest)
                self._once(("items", name), number, f"item {shown(name)}")
                self.document["items"][name] = item
            case "stream":
                self.lines["streams", len(self.document["streams"])] = number
                self.document["streams"].append(stream_of(rest))
            case "holds":
                cell, holds = holds_of(rest)
                self._once(("holds", cell_text(cell)), number, f"what {cell_text(cell)} holds")
                self.contents[cell] = holds
            case "rule":
                name, value = rule_of(rest)
                self._once(("rules", name), number, f"rule {name}")
                self.document["rules"][name] = value
            case "order":
                self._take_order(rest, number)
            case _:
                self._take_layer(layer_of(rest), number)

    def _once(self, place: Place, number: int, what: str) -> None:
        if place in self.lines:
            raise InputError(f"{what} stands in line {self.lines[place]} already; keep one")
        self.lines[place] = number

    def _take_order(self, words: list[Word], number: int) -> None:
        for cell in order_of(words):
            if cell in self.order:
                raise InputError(f"{cell_text(cell)} stands twice in the order; keep one")
            self.order[cell] = number

    # --- the layers

    def _take_layer(self, layer: int, number: int) -> None:
        if layer != len(self.rows):
            raise InputError(f"must be layer {len(self.rows)}, not {shown(layer)}; layers go from 0 (the ground) up")
        self._end_layer()
        self.rows.append([])
        self.lines["layers", layer] = number
        self.in_layer = True

    def _take_row(self, line: str, number: int) -> None:
        cells, cut = row_of(line)
        if not cells:
            self.swallowed = self.swallowed or (number, cut)
            return
        if not self.width:
            self.width, self.first_row = len(cells), number
            self.lines["size",] = number
        if len(cells) != self.width:
            why = f" ({shown(cut)} is no cell, so the # before it begins a comment)" if cut else ""
            cells_here = counted(len(cells), "cell")
            raise InputError(f"has {cells_here}, but the row in line {self.first_row} has {self.width}{why}")
        self.rows[-1].append([(x, cell) for x, cell in enumerate(cells) if cell != EMPTY])

    def _end_layer(self) -> None:
        """Checks the rows of the layer that ends here; a fault is told of the line in which it began."""
        if not self.rows:
            return
        rows, layer = len(self.rows[-1]), len(self.rows) - 1
        self.depth = self.depth or rows
        if not rows or rows != self.depth:
            fault = f"layer {layer} has {counted(rows, 'row')}, but layer 0 has {self.depth}"
            if not rows:
                fault = f"layer {layer} has no rows of cells"
            if self.swallowed and self.swallowed[1]:
                number, word = self.swallowed
                fault += f" (line {number} reads as a comment, because {shown(word)} is no cell)"
            raise InputError(fault, field=f"line {self.lines['layers', layer]}")
        self.swallowed = None

    # --- the whole

    def end(self, number: int) -> None:
        """Ends the plan: what only the whole can tell."""
        if not self.begun:
            raise InputError(f"is empty; a plan begins with a line {PLAN_FORMAT}")
        if not self.rows:
            raise InputError("has no layers; a line such as layer 0 and rows of cells are due", field=f"line {number}")
        self._end_layer()
        self.document["size"] = [self.width, self.depth, len(self.rows)]
        # they are made from cells that were judged one by one
        self.document["parts"] = []

    def parts(self) -> Iterator[Part]:
        """The parts: those that ``order`` lists first, the others in reading order."""
        found = {part.at: part for part in self._in_reading_order()}
        self._check_cells(found)
        order = [*self.order, *(cell for cell in found if cell not in self.order)]
        for i, cell in enumerate(order):
            if cell in self.contents:
                self.lines["parts", i, "holds"] = self.lines["holds", cell_text(cell)]
        return (found[cell] for cell in order)

    def _in_reading_order(self) -> Iterator[Part]:
        for z, rows in enumerate(self.rows):
            for row, cells in enumerate(rows):
                for x, code in cells:
                    at = (x, self.depth - 1 - row, z)
                    yield part_at(code, at, self.contents.get(at, ()))

    def _check_cells(self, found: dict[Cell, Part]) -> None:
        for cell in self.contents:
            if not isinstance(found.get(cell), (Bin, Node, Furnace)):
                fault = f"no container stands at {cell_text(cell)}; only a bin, node or furnace holds anything"
                raise InputError(fault, field=self.where(("holds", cell_text(cell))))
        for cell, line in self.order.items():
            if cell not in found:
                raise InputError(f"nothing stands at {cell_text(cell)}; list only cells of parts", field=f"line {line}")
