"""Which outputs are taken to be emptied as they fill, worked out item by item and link by link.

``sim.analysis.assure.sinks`` goes by parts of a graph that hang together; here what an item can come to, and what can
make a difference to what, are followed one step at a time, with one output after another taken off the list.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from sim.world.geometry import Cell, step
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Node
from sim.world.rulebook import default_rules
from sim.world.signals.wiring import wiring_of

Lying = tuple[str, Cell, int]
"""A kind, a container, and there the slots that it lies in: of a furnace feed, fuel or product, else 0."""


def emptied_outputs(layout: Layout) -> frozenset[Cell]:
    """Bins and furnaces that refuse nothing for another kind's sake, and below which nothing makes a difference."""
    read = wiring_of(layout).gauges_of_container
    cells = {cell for stream in layout.streams for cell in stream.outputs}
    decisive = {*cells, *read, *(stream.source for stream in layout.streams)}
    crowded = crowded_containers(layout)
    emptied = {
        cell
        for cell in cells - {*read, *crowded, *(stream.source for stream in layout.streams)}
        if isinstance(layout.by_cell[cell], (Bin, Furnace))
    }
    while True:
        below = {cell: linked(layout, step(cell, "D"), emptied) for cell in emptied if (cell, step(cell, "D")) in
                 steps(layout)}  # fmt: skip
        kept = {cell for cell, places in below.items() if places & decisive or goes_round(layout, places)}
        if not kept:
            return frozenset(emptied)
        emptied -= kept


def steps(layout: Layout) -> set[tuple[Cell, Cell]]:
    """From container to container: what a node pulls, and what it pushes."""
    containers = {part.at for part in layout.containers}
    nodes = [part for part in layout.parts if isinstance(part, Node)]
    pulls = {(step(node.at, "U"), node.at) for node in nodes}
    pushes = {(node.at, step(node.at, node.outlet)) for node in nodes}
    return {(one, other) for one, other in pulls | pushes if {one, other} <= containers}


def linked(layout: Layout, start: Cell, emptied: Collection[Cell]) -> set[Cell]:
    """Containers that make a difference to one another, with ``start``; what is emptied passes nothing on, but is met
    where something can enter it."""
    found, todo = {start}, [start]
    while todo:
        at = todo.pop()
        for one, other in steps(layout):
            near = other if one == at else one if other == at and one not in emptied else None
            if near is not None and near not in found:
                found.add(near)
                if near not in emptied:
                    todo.append(near)
    return found


def goes_round(layout: Layout, places: Collection[Cell]) -> bool:
    """An item can come back to where it was, without leaving ``places``."""
    ways = [(one, other) for one, other in steps(layout) if one in places and other in places]
    left = set(places)
    while ends := {cell for cell in left if not any(one == cell and other in left for one, other in ways)}:
        left -= ends
    return bool(left)


def crowded_containers(layout: Layout) -> set[Cell]:
    """Bins and furnaces into some slots of which more kinds can come than there are of these slots."""
    bin_slots = layout.rules_in_force(default_rules()).bin_slots
    lying = lying_anywhere(layout)
    crowded = set()
    for part in layout.containers:
        groups = {slots: {kind for kind, cell, at in lying if (cell, at) == (part.at, slots)} for slots in range(2)}
        room = 1 if isinstance(part, Furnace) else bin_slots
        if any(len(kinds) > room for kinds in groups.values()):
            crowded.add(part.at)
    return crowded


def lying_anywhere(layout: Layout) -> set[Lying]:
    """Every kind wherever it can come to lie, each item followed by itself."""
    found: set[Lying] = set()
    todo: list[Lying] = [(stream.item, stream.source, 0) for stream in layout.streams]
    for part in layout.containers:
        held = [(slot[0], i) for i, slot in enumerate(part.holds) if slot is not None]
        todo += [(kind, part.at, i if isinstance(part, Furnace) else 0) for kind, i in held]
    while todo:
        one = todo.pop()
        if one not in found:
            found.add(one)
            todo += moved(layout, one)
    return found


def moved(layout: Layout, one: Lying) -> Iterator[Lying]:
    """Where an item can be next."""
    kind, cell, slots = one
    part, item = layout.by_cell[cell], layout.items.get(one[0])
    below = layout.by_cell.get(step(cell, "D"))
    if isinstance(part, Furnace) and slots == 0 and item is not None and item.fires_to is not None:
        yield item.fires_to, cell, 2
    if isinstance(below, Node) and (not isinstance(part, Furnace) or slots == 2):
        yield kind, below.at, 0
    if not isinstance(part, Node):
        return
    match layout.by_cell.get(step(cell, part.outlet)):
        case Bin(at=target) | Node(at=target):
            yield kind, target, 0
        case Furnace(at=target) if part.outlet == "D":
            yield kind, target, 0
        case Furnace(at=target) if item is not None and item.burn:
            yield kind, target, 1
