"""Sinks: the outputs that are taken to be emptied as they fill.

A sink refuses nothing that enters, and nothing leaves it. An output is one where the build would come to the same if it
kept what it gets, until it is full:

- It is a bin or a furnace, no source, and no gauge reads it.
- No two kinds can meet in one slot of it, so that one would be refused while the other lies there.
- What leaves it makes no difference. Containers that an item can go between make a difference to each other both ways:
  items go down the way, and what is full holds up what stands before it. So the ways below a sink have no link with an
  output, a source or a container that is read; nor do items go round in them for ever.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping

import networkx as nx

from sim.world.geometry import Cell, step
from sim.world.items.furnace import FEED, FUEL, PRODUCT
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Node

Place = tuple[Cell, bool]
"""A container; True: its lower side, what leaves it, where it may be a sink."""
Slots = tuple[Cell, int]
"""The slots of a container that take in the same items: of a furnace one of three, of others all (0)."""


def sinks_of(layout: Layout, read: Collection[Cell], bin_slots: int) -> frozenset[Cell]:
    """The outputs that are emptied as they fill. ``read``: containers that gauges read.

    Time: linear in the parts, times the kinds of items and the longest way.
    """
    outputs = {cell for stream in layout.streams for cell in stream.outputs}
    decisive = {*(stream.source for stream in layout.streams), *read}
    kinds = kinds_that_enter(layout)
    emptied = {
        cell
        for cell in outputs - decisive
        if isinstance(part := layout.by_cell[cell], (Bin, Furnace)) and not _mixes(part, kinds, bin_slots)
    }
    ways = _ways(layout, emptied)
    linked: set[Place] = set()
    for together in nx.weakly_connected_components(ways):
        goes_round = not nx.is_directed_acyclic_graph(ways.subgraph(together))
        if goes_round or any((cell, False) in together for cell in decisive | outputs):
            linked |= together
    return frozenset(cell for cell in emptied if (cell, True) not in linked)


def _mixes(part: Bin | Furnace, kinds: Mapping[Slots, Collection[str]], bin_slots: int) -> bool:
    """More kinds can enter than there are slots for."""
    if isinstance(part, Bin):
        return len(kinds[part.at, 0]) > bin_slots
    return any(len(kinds[part.at, slot]) > 1 for slot in (FEED, FUEL))


def _ways(layout: Layout, emptied: Collection[Cell]) -> nx.DiGraph[Place]:
    """Each step that an item can take from container to container."""
    ways: nx.DiGraph[Place] = nx.DiGraph()
    for node, above, target in _nodes(layout):
        if above is not None:
            ways.add_edge((above, above in emptied), (node.at, False))
        if target is not None:
            ways.add_edge((node.at, False), (target, False))
    return ways


def _nodes(layout: Layout) -> Iterator[tuple[Node, Cell | None, Cell | None]]:
    """Each node with the container above it and the one that it pushes into."""
    containers = {part.at for part in layout.containers}
    for part in layout.parts:
        if isinstance(part, Node):
            above, target = step(part.at, "U"), step(part.at, part.outlet)
            yield part, above if above in containers else None, target if target in containers else None


def kinds_that_enter(layout: Layout) -> Mapping[Slots, Collection[str]]:
    """The kinds of items that can come to lie in the slots of each container, or more, whatever is locked when."""
    kinds: defaultdict[Slots, set[str]] = defaultdict(set)
    furnaces = [part.at for part in layout.parts if isinstance(part, Furnace)]
    for part in layout.containers:
        for i, slot in enumerate(part.holds):
            if slot is not None:
                kinds[part.at, i if isinstance(part, Furnace) else 0].add(slot[0])
    for stream in layout.streams:
        kinds[stream.source, 0].add(stream.item)
    while True:
        known = sum(map(len, kinds.values()))
        for node, above, target in _nodes(layout):
            if above is not None:
                kinds[node.at, 0] |= kinds[above, PRODUCT if above in furnaces else 0]
            if target is not None:
                slots, enter = _entered(layout, node, target, kinds[node.at, 0])
                kinds[slots] |= enter
        for cell in furnaces:
            fired = (layout.items[kind].fires_to for kind in kinds[cell, FEED] if kind in layout.items)
            kinds[cell, PRODUCT] |= {kind for kind in fired if kind is not None}
        if sum(map(len, kinds.values())) == known:
            return kinds


def _entered(layout: Layout, node: Node, target: Cell, kinds: Collection[str]) -> tuple[Slots, set[str]]:
    """What a node can push in, of the kinds that it may hold, and where."""
    if not isinstance(layout.by_cell[target], Furnace):
        return (target, 0), {*kinds}
    if node.outlet == "D":
        return (target, FEED), {*kinds}
    return (target, FUEL), {kind for kind in kinds if kind in layout.items and layout.items[kind].burn}
