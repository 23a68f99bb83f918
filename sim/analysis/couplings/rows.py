"""Which row each container belongs to, and what it is called there: ``T0``, ``B2``, a source, a product node.

A stream's row is what its items can get to from the source: a node below pulls, an outlet pushes; a furnace takes and
does not hand on. What comes out of furnaces makes a row of its own, the product row.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from sim.world.geometry import Cell, step
from sim.world.layout import Layout, Stream
from sim.world.parts import Container, Furnace, Node

PRODUCT: Final = "product"
"""The name of the product row."""


@dataclass(frozen=True, slots=True)
class Rows:
    """``names``: the streams in file order, then the product row where there is one. ``of``: the rows of each
    container, in that order (a kiln belongs to feed and fuel). ``labels``: what a container is called in its row."""

    names: tuple[str, ...]
    product: str
    of: Mapping[Cell, tuple[str, ...]]
    labels: Mapping[Cell, str]

    def is_product(self, cell: Cell) -> bool:
        """The container belongs to the product row alone."""
        return self.of.get(cell) == (self.product,)


def rows_of(layout: Layout) -> Rows:
    """The rows of a layout. Containers of a stream are never the product row's. Time: containers times streams."""
    product = PRODUCT
    while any(stream.name == product for stream in layout.streams):
        product += " row"
    of: dict[Cell, tuple[str, ...]] = {}
    labels: dict[Cell, str] = {}
    for stream in layout.streams:
        for cell in _reached(layout, [stream.source], burns(layout, stream.item)):
            of[cell] = (*of.get(cell, ()), stream.name)
        for cell, label in _labels(layout, stream):
            labels.setdefault(cell, label)
    below = [step(part.at, "D") for part in layout.parts if isinstance(part, Furnace)]
    for cell in _reached(layout, [cell for cell in below if _is_node(layout, cell)], burns=True):
        if cell not in of and not isinstance(layout.by_cell[cell], Furnace):
            of[cell] = (product,)
            kind = layout.by_cell[cell].kind
            labels[cell] = f"a {product} {kind}" if product == PRODUCT else f'a {kind} of the "{product}"'
    used = {name for names in of.values() for name in names}
    return Rows(
        tuple(name for name in (*(stream.name for stream in layout.streams), product) if name in used),
        product,
        of,
        labels,
    )


def _reached(layout: Layout, starts: Iterable[Cell], burns: bool) -> list[Cell]:
    """The containers that items put into ``starts`` can get to, blind to time, locks and room; furnaces end the way."""
    reached: dict[Cell, None] = {}
    waiting = list(starts)
    for cell in waiting:
        if cell in reached or not isinstance(part := layout.by_cell.get(cell), Container):
            continue
        reached[cell] = None
        if isinstance(part, Furnace):
            continue
        if _is_node(layout, below := step(cell, "D")):
            waiting.append(below)
        if isinstance(part, Node) and (part.outlet == "D" or burns or not _is_furnace(layout, part)):
            waiting.append(step(cell, part.outlet))
    return list(reached)


def _labels(layout: Layout, stream: Stream) -> Iterator[tuple[Cell, str]]:
    """Along the outlets from the node below the source: T0, T1, ...; the node below Ti is Bi."""
    yield stream.source, f'the source of "{stream.name}"'
    trunk = trunk_of(layout, step(stream.source, "D"))
    for number, cell in enumerate(trunk):
        yield cell, f'T{number} of "{stream.name}"'
    for number, cell in enumerate(trunk):
        if _is_node(layout, below := step(cell, "D")):
            yield below, f'B{number} of "{stream.name}"'  # where the trunk itself steps down it has its name already


def trunk_of(layout: Layout, head: Cell) -> list[Cell]:
    """The nodes from ``head`` on, each pushing into the next; none twice, where they make a ring."""
    trunk: dict[Cell, None] = {}
    cell = head
    while cell not in trunk and isinstance(node := layout.by_cell.get(cell), Node):
        trunk[cell] = None
        cell = step(cell, node.outlet)
    return list(trunk)


def burns(layout: Layout, kind: str) -> bool:
    """Items of this kind are fuel."""
    return kind in layout.items and layout.items[kind].burn > 0


def _is_furnace(layout: Layout, node: Node) -> bool:
    """The node's outlet leads into a furnace."""
    return isinstance(layout.by_cell.get(step(node.at, node.outlet)), Furnace)


def _is_node(layout: Layout, cell: Cell) -> bool:
    return isinstance(layout.by_cell.get(cell), Node)
