"""What a schema cannot say of a layout: parts inside the size, one a cell, streams and contents that fit.

These checks hold for every form of the file. Whether the build *works* is the design checks' question, not theirs.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import prod
from typing import Final

from sim.errors import InputError
from sim.world.files.places import Place, Where, box_text, counted, json_place, shown, with_article
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import FURNACE_SLOTS, Bin, Container, Furnace, Node
from sim.world.rulebook import Rules, default_rules

SIDE_MOST: Final = 4096
"""Longest side of a site, in cells: a bound on work, not a law of the world."""
VOLUME_MOST: Final = 16_777_216
"""Most cells of a site: a bound on work and memory, not a law of the world."""


def check_consistency(layout: Layout, where: Where = json_place, base: Rules | None = None) -> None:
    """Raises InputError for the first fault. ``base``: the rulebook that ``layout.rules`` overrides, else the default.

    Linear in the number of parts, slots and outputs.
    """
    rules = layout.rules_in_force(base or default_rules())
    for place, fault in _faults(layout, rules, where):
        raise InputError(fault, field=where(place))


def outside(cell: Cell, size: tuple[int, int, int]) -> str:
    """The fault of a part at ``cell`` outside ``size``."""
    axis = next(i for i in range(3) if not 0 <= cell[i] < size[i])
    return f"{shown(cell)} lies outside the size {shown(size)}; {'xyz'[axis]} goes from 0 to {size[axis] - 1}"


def size_fault(size: tuple[int, int, int]) -> tuple[Place, str] | None:
    """What is wrong with a size."""
    for i, cells in enumerate(size):
        if not 1 <= cells <= SIDE_MOST:
            return ("size", i), f"must be a whole number from 1 to {SIDE_MOST}, not {shown(cells)}"
    if prod(size) > VOLUME_MOST:
        return ("size",), f"{box_text(size)} is {prod(size)} cells; at most {VOLUME_MOST} can be taken"
    return None


def slots_of(part: Container, rules: Rules) -> int:
    """How many slots a container has."""
    if isinstance(part, Furnace):
        return len(FURNACE_SLOTS)
    return rules.node_slots if isinstance(part, Node) else rules.bin_slots


def _faults(layout: Layout, rules: Rules, where: Where) -> Iterator[tuple[Place, str]]:
    fault = size_fault(layout.size)
    if fault:
        yield fault
    yield from _faults_of_text(layout)
    yield from _faults_of_cells(layout, where)
    yield from _faults_of_holds(layout, rules)
    yield from _faults_of_streams(layout, where)


def _faults_of_text(layout: Layout) -> Iterator[tuple[Place, str]]:
    """JSON can state half a character (a lone surrogate), which no UTF-8 file can hold."""
    texts: list[tuple[Place, str]] = [(("title",), layout.title)]
    for name, item in layout.items.items():
        texts += [(("items", name), name), (("items", name, "fires_to"), item.fires_to or "")]
    for i, stream in enumerate(layout.streams):
        texts += [(("streams", i, "name"), stream.name), (("streams", i, "item"), stream.item)]
    for i, part in enumerate(layout.parts):
        if isinstance(part, (Bin, Node, Furnace)):
            texts += [(("parts", i, "holds", n, 0), slot[0]) for n, slot in enumerate(part.holds) if slot]
    for place, text in texts:
        if not text.isascii() and any("\ud800" <= char <= "\udfff" for char in text):
            yield place, f"{shown(text)} holds half a character (a lone surrogate); write the whole one"


def _faults_of_cells(layout: Layout, where: Where) -> Iterator[tuple[Place, str]]:
    width, depth, height = layout.size
    first_at: dict[Cell, int] = {}
    for i, part in enumerate(layout.parts):
        x, y, z = part.at
        if not (0 <= x < width and 0 <= y < depth and 0 <= z < height):
            yield ("parts", i, "at"), outside(part.at, layout.size)
        if part.at in first_at:
            first = where(("parts", first_at[part.at], "at"))
            yield ("parts", i, "at"), f"{shown(part.at)} is taken by {first} already; one part a cell"
        first_at[part.at] = i


def _faults_of_holds(layout: Layout, rules: Rules) -> Iterator[tuple[Place, str]]:
    for i, part in enumerate(layout.parts):
        if not isinstance(part, (Bin, Node, Furnace)) or not part.holds:
            continue
        slots = slots_of(part, rules)
        if len(part.holds) > slots:
            yield ("parts", i, "holds"), f"lists {counted(len(part.holds), 'slot')}, but a {part.kind} has {slots}"
        for n, slot in enumerate(part.holds):
            if slot is None:
                continue
            kind, count = slot
            if not kind:
                yield ("parts", i, "holds", n, 0), "must be a kind of item, not an empty name"
            limit = layout.stack_limit(rules)(kind)
            if not 1 <= count <= limit:
                fault = f"a slot of {shown(kind)} takes from 1 to {limit}, not {shown(count)}"
                yield ("parts", i, "holds", n, 1), fault


def _faults_of_streams(layout: Layout, where: Where) -> Iterator[tuple[Place, str]]:
    first_named: dict[str, int] = {}
    for i, stream in enumerate(layout.streams):
        if stream.name in first_named:
            first = where(("streams", first_named[stream.name]))
            yield ("streams", i, "name"), f"{shown(stream.name)} is taken by {first} already; give each its own name"
        first_named[stream.name] = i
        if not isinstance(layout.by_cell.get(stream.source), Bin):
            yield ("streams", i, "source"), f"{_standing(layout, stream.source)}; a source must be a bin"
        if not stream.outputs:
            yield ("streams", i, "outputs"), "must be one or more cells"
        seen: set[Cell] = set()
        for n, output in enumerate(stream.outputs):
            if output in seen:
                yield ("streams", i, "outputs", n), f"{shown(output)} stands twice; keep one"
            seen.add(output)
            if not isinstance(layout.by_cell.get(output), (Bin, Node, Furnace)):
                wanted = "an output must be a bin, node or furnace; put one there, or leave the cell out"
                fault = f"{_standing(layout, output)}; {wanted}"
                yield ("streams", i, "outputs", n), fault


def _standing(layout: Layout, cell: Cell) -> str:
    part = layout.by_cell.get(cell)
    if part is None:
        return f"nothing stands at {shown(cell)}"
    return f"{with_article(part.kind)} stands at {shown(cell)}"
