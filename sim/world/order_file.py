"""The update order in a file (formats, "Commands"): one cell a line, a permutation of all nodes and furnaces."""

from __future__ import annotations

import os
import re
from typing import Final

from sim.errors import InputError
from sim.world.files.places import printable, shown
from sim.world.files.text import read_text
from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.world import check_order

CELL: Final = re.compile(r"\s*([0-9]{1,9})\s*,\s*([0-9]{1,9})\s*,\s*([0-9]{1,9})\s*")


def load_order(path: str | os.PathLike[str], layout: Layout) -> tuple[Cell, ...]:
    """The update order in the file at ``path``: one cell ``x,y,z`` a line; blanks and ``#`` comments are allowed.

    Raises InputError, with file and line, unless it lists each node and furnace of ``layout`` once.
    """
    name = os.fspath(path)
    try:
        return order_from(read_text(name, "an order is one cell x,y,z a line"), layout)
    except InputError as error:
        raise error.within(printable(name)) from None


def order_from(text: str, layout: Layout) -> tuple[Cell, ...]:
    """The update order that ``text`` states. Raises InputError with the line; it names no file."""
    machines = {part.at for part in layout.machines}
    line_of: dict[Cell, int] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        words = line.partition("#")[0].strip()
        if not words:
            continue
        cell = _cell(words, f"line {number}")
        if cell not in machines:
            raise InputError(f"{cell_text(cell)} holds neither a node nor a furnace", field=f"line {number}")
        if cell in line_of:
            raise InputError(f"{cell_text(cell)} stands on line {line_of[cell]} already", field=f"line {number}")
        line_of[cell] = number
    order = tuple(line_of)
    check_order(layout, order)
    return order


def _cell(words: str, field: str) -> Cell:
    found = CELL.fullmatch(words)
    if found is None:
        raise InputError(f"must be a cell x,y,z, as in 1,0,2, not {shown(words)}", field=field)
    x, y, z = map(int, found.groups())
    return x, y, z
