"""Where items can get: a reachability search over containers (rulebook section 3), blind to time, locks and room."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sim.world.geometry import Cell, step
from sim.world.items.furnace import FEED, PRODUCT
from sim.world.layout import Layout, Stream
from sim.world.parts import Container, Furnace, Node

Place = tuple[Cell, str]
"""A kind of item in a container."""


def reached_by(layout: Layout, stream: Stream) -> set[Place]:
    """Every container that items of the stream, or what they fire to, can get to from its source, with their kind.

    Time: linear in containers times kinds.
    """
    return _spread(layout, [(stream.source, stream.item)])


def reached_by_all(layout: Layout) -> set[Place]:
    """The same for all streams and all starting contents together."""
    starts = [(stream.source, stream.item) for stream in layout.streams]
    for part in layout.containers:
        starts += _starting(layout, part)
    return _spread(layout, starts)


def containers_by_stream(layout: Layout) -> dict[Cell, set[str]]:
    """The names of the streams whose items, or what they fire to, can get to each container."""
    streams: dict[Cell, set[str]] = {}
    for stream in layout.streams:
        for cell, _ in reached_by(layout, stream):
            streams.setdefault(cell, set()).add(stream.name)
    return streams


def _spread(layout: Layout, starts: Iterable[Place]) -> set[Place]:
    reached: set[Place] = set()
    waiting = list(starts)
    while waiting:
        place = waiting.pop()
        if place not in reached:
            reached.add(place)
            waiting += _moves(layout, *place)
    return reached


def _moves(layout: Layout, cell: Cell, kind: str) -> Iterator[Place]:
    """Where one item goes next: into the node below, which pulls, and through the outlet of the node it is in."""
    part = layout.by_cell[cell]
    if isinstance(part, Furnace):
        return  # what entered stays; what it fires to is told where it enters
    if _is_node(layout, below := step(cell, "D")):
        yield below, kind
    if isinstance(part, Node):
        yield from _entering(layout, part, kind)


def _entering(layout: Layout, node: Node, kind: str) -> Iterator[Place]:
    target = layout.by_cell.get(step(node.at, node.outlet))
    if not isinstance(target, Container):
        return
    if not isinstance(target, Furnace):
        yield target.at, kind
    elif node.outlet == "D":
        yield from _as_feed(layout, target, kind)
    elif burns(layout, kind):
        yield target.at, kind


def _as_feed(layout: Layout, furnace: Furnace, kind: str) -> Iterator[Place]:
    yield furnace.at, kind
    item = layout.items.get(kind)
    if item is not None and item.fires_to is not None and _is_node(layout, below := step(furnace.at, "D")):
        yield below, item.fires_to


def _starting(layout: Layout, part: Container) -> list[Place]:
    kinds = [slot[0] if slot else None for slot in part.holds]
    if not isinstance(part, Furnace):
        return [(part.at, kind) for kind in kinds if kind is not None]
    places: list[Place] = []
    for slot, kind in enumerate(kinds):
        if kind is not None and slot == FEED:
            places += _as_feed(layout, part, kind)
        elif kind is not None and slot == PRODUCT and _is_node(layout, below := step(part.at, "D")):
            places.append((below, kind))
    return places


def burns(layout: Layout, kind: str) -> bool:
    """The kind burns as fuel."""
    return kind in layout.items and layout.items[kind].burn > 0


def _is_node(layout: Layout, cell: Cell) -> bool:
    return isinstance(layout.by_cell.get(cell), Node)
