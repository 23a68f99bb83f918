"""Items that stay behind: where they lie, and what keeps the nodes from moving them on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final, Literal

from sim.analysis.mishap.causes import Causes, since_when
from sim.analysis.mishap.mishap import Mishap
from sim.world.geometry import Cell, Direction, step
from sim.world.items.furnace import Firing
from sim.world.items.store import Store
from sim.world.layout import Stream
from sim.world.parts import Container, Furnace, Node, Slot
from sim.world.recording import Recording
from sim.world.statement import ItemWord, Statement, mention, mentions

NAMED: Final = 3
"""Containers whose ways out are told one by one, and sentences on what they hold: one for all that hold as many."""


def stuck(recording: Recording, causes: Causes, stream: Stream, kind: Literal["nothing", "left"]) -> Mishap | None:
    """What keeps the items of a stream from its outputs; None where there are none that could have come to one."""
    held = held_in(recording, stream, [stream.source, *recording.locks])
    if not held:
        return None
    last = max((move.tick for move in recording.moves if move.kind == stream.item), default=0)
    held = _come_since(recording, stream, held) or held
    statements = (_first(recording, stream, kind), *what_is_held(recording, causes, stream, held))
    return Mishap(stream.name, last, next(iter(held)), statements, kind)


def _first(recording: Recording, stream: Stream, kind: Literal["nothing", "left"]) -> Statement:
    """The sentence that is a full answer: what stays beyond what the nodes started with, where they did."""
    result = next(one for one in recording.result.streams if one.name == stream.name)
    item, start = ItemWord(stream.item), result.held_at_start
    if kind == "left" and start:
        return Statement("mishap.left_beyond", {"item": item, "count": result.held - start, "start": start})
    return Statement(f"mishap.{kind}", {"item": item})


def _come_since(recording: Recording, stream: Stream, held: Mapping[Cell, int]) -> dict[Cell, int]:
    """Of what is held that of the nodes that hold more than they started with, and of the source."""
    return {
        cell: count
        for cell, count in held.items()
        if cell == stream.source or count > _count(recording.start[cell], stream.item)
    }


def _count(slots: Iterable[Slot | None], kind: str) -> int:
    return sum(slot[1] for slot in slots if slot is not None and slot[0] == kind)


def held_in(recording: Recording, stream: Stream, cells: Iterable[Cell]) -> dict[Cell, int]:
    """How many items of the stream's kind these containers hold at the end, without its outputs and those that hold
    none: the source last, the others with most of them first, of the same number those further on in ``cells``."""
    contents = recording.result.contents
    counts = {cell: _count(contents[cell], stream.item) for cell in cells if cell not in stream.outputs}
    place = {cell: number for number, cell in enumerate(counts)}
    found = [cell for cell, count in counts.items() if count]
    found.sort(key=lambda cell: (cell == stream.source, -counts[cell], -place[cell]))
    return {cell: counts[cell] for cell in found}


def what_is_held(
    recording: Recording, causes: Causes, stream: Stream, held: Mapping[Cell, int]
) -> Iterator[Statement]:
    """What lies where at the end, and what keeps it there."""
    layout, item = recording.layout, ItemWord(stream.item)
    cells = list(held)
    alike = [(count, list(group)) for count, group in groupby(cells, held.__getitem__)]
    shown = alike if len(alike) <= NAMED + 1 else alike[:NAMED]
    for count, group in shown:
        if len(group) == 1:
            yield Statement("mishap.holds", {"container": mention(layout, group[0]), "count": count, "item": item})
        else:
            yield Statement("mishap.hold_each", {"containers": mentions(layout, group), "count": count, "item": item})
    if rest := [cell for _, group in alike[len(shown) :] for cell in group]:
        count = sum(held[cell] for cell in rest)
        yield Statement("mishap.hold_more", {"containers": mentions(layout, rest), "count": count, "item": item})
    for cell in cells if len(cells) <= NAMED + 1 else cells[:NAMED]:
        yield from _way_out(recording, stream, cell)
    yield from _locked(recording, causes, cells)


def _way_out(recording: Recording, stream: Stream, cell: Cell) -> Iterator[Statement]:
    """What is wrong with the way out of a container itself: there is none, or its end has no room. Of the last node of
    a row, which pushes into nothing on purpose: that the node below alone can take from it."""
    layout = recording.layout
    node = layout.by_cell[cell]
    if not isinstance(node, Node):
        if not isinstance(layout.by_cell.get(step(cell, "D")), Node):
            yield Statement("mishap.nothing_takes", {"container": mention(layout, cell)})
        return
    target = layout.by_cell.get(step(cell, node.outlet))
    if not isinstance(target, Container):
        below = step(cell, "D")
        if isinstance(layout.by_cell.get(below), Node):
            yield Statement("mishap.row_end", {"below": mention(layout, below), "node": mention(layout, cell)})
        else:
            yield Statement("mishap.leads_nowhere", {"node": mention(layout, cell)})
    elif not _has_room(recording, target, stream.item, node.outlet):
        full, node_named = mention(layout, target.at), mention(layout, cell)
        yield Statement("mishap.no_room", {"container": full, "node": node_named, "item": ItemWord(stream.item)})


def _has_room(recording: Recording, target: Container, kind: str, moving: Direction) -> bool:
    """The container would take an item pushed into it, as it is at the end (rulebook section 3)."""
    layout, rules = recording.layout, recording.rules
    slot = None
    if isinstance(target, Furnace):
        slot = Firing.of(layout, rules).entry_slot(kind, moving)
        if slot is None:
            return False
    contents = recording.result.contents[target.at]
    return Store(len(contents), layout.stack_limit(rules), contents).accepts(kind, slot)


def _locked(recording: Recording, causes: Causes, holders: Sequence[Cell]) -> Iterator[Statement]:
    """The locked nodes that could move the items on, those with the same reason together: first those that hold some,
    then those that would have to pull some out of the node or bin above them."""
    layout = recording.layout
    able = dict.fromkeys(one for cell in holders for one in (cell, step(cell, "D")) if one in recording.locks)
    alike: dict[_Reason, list[Cell]] = {}
    for cell in able:
        if recording.locks[cell][-1][1]:
            alike.setdefault(_reason(recording, causes, cell, holds=cell in holders), []).append(cell)
    for reason, cells in alike.items():
        values = {name: mention(layout, value) if isinstance(value, tuple) else value for name, value in reason.values}
        yield Statement(reason.key, {"nodes": mentions(layout, cells), **values})
        if reason.parts:
            yield Statement("mishap.locks", {"parts": mentions(layout, reason.parts)})


@dataclass(frozen=True, slots=True)
class _Reason:
    """Why a node is locked at the end: which sentence, what fills it (cells: what stands there), the parts that lock
    it where no cause is told."""

    key: str
    values: tuple[tuple[str, int | Cell], ...] = ()
    parts: tuple[Cell, ...] = ()


def _reason(recording: Recording, causes: Causes, node: Cell, *, holds: bool) -> _Reason:
    """``holds``: the node holds what it cannot move on; else it cannot take that out of what stands above it."""
    act = "mishap." if holds else "mishap.below_"
    locks = recording.locks[node]
    since = since_when(locks, recording.last_tick)
    if causes.is_always_locked(node):
        return _Reason(f"{act}always_locked", parts=causes.lockers(node))
    if not since:
        return _Reason(f"{act}stays_locked_from_start", parts=causes.lockers(node))
    reading = causes.of_lock(node, since)
    if reading is None:
        return _Reason(f"{act}stays_locked", (("since", since),), causes.lockers(node))
    key = f"{act}stays_locked_empty" if reading.is_empty else f"{act}stays_locked_holding"
    return _Reason(key, (("since", since), ("gauge", reading.gauge), ("container", reading.container)))
