"""The question that a finished layout answers: its streams, faces and row, and what its lock does, read off it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from sim.errors import InputError
from sim.geometry import Cell, cell_text, step
from sim.layout import Layout, Stream
from sim.parts import Furnace, Node
from sim.rulebook import load_rulebook
from sim.world import World
from synth.measures import box_of
from synth.scheme import LOCK_TABLE, NAME
from synth.spec import Face, Spec, StreamSpec


@dataclass(frozen=True, slots=True)
class LockReading:
    """Whether the B nodes of a stream are locked in one row of the lock's table (None: some are, some not)."""

    head_holds: bool
    tail_holds: bool
    locked: bool | None


@dataclass(frozen=True, slots=True)
class StreamReading:
    """A stream as it is built: the face it enters by, its row T0..TN, its B nodes in that order, what its lock does."""

    stream: Stream
    face: Face
    row: tuple[Cell, ...]
    drops: tuple[Cell, ...]
    lock: tuple[LockReading, ...]
    into_furnaces: bool

    @property
    def is_burst_row(self) -> bool:
        """The lock does what the scheme asks, in every row of the table."""
        asked = {(row.head_holds, row.tail_holds): row.locked for row in LOCK_TABLE}
        return all(one.locked == asked[one.head_holds, one.tail_holds] for one in self.lock)

    def sentences(self) -> Iterator[str]:
        """What was read, for people."""
        count = len(self.stream.outputs)
        yield (
            f"stream {self.stream.name}: {self.stream.item} from {cell_text(self.stream.source)} into {count} outputs, "
            f"from the {self.face}, by a row of {len(self.row)} nodes"
        )
        if not self.into_furnaces:
            yield "  its outputs are not all furnaces; the search is for furnaces in their stead"
        for reading in self.lock:
            ends = f"T0 {_holds(reading.head_holds)}, T{count} {_holds(reading.tail_holds)}"
            state = {True: "locked", False: "unlocked", None: "some locked, some not"}[reading.locked]
            yield f"  {ends}: the B nodes are {state}"
        yield f"  {'as' if self.is_burst_row else 'not as'} a {NAME} has it"


def spec_of_layout(layout: Layout) -> tuple[Spec, list[StreamReading]]:
    """The spec that a layout is an answer to, its site the box around its parts; and what was read off.

    Raises InputError where a stream is not carried by a row as the scheme has it, or streams differ in their furnaces.
    """
    if not layout.streams:
        raise InputError("there is no stream to be split", field="streams")
    readings = [_reading(layout, stream) for stream in layout.streams]
    outputs = {frozenset(stream.outputs) for stream in layout.streams}
    if len(outputs) > 1:
        raise InputError("the streams have different outputs; all must feed the same furnaces", field="streams")
    spec = Spec(
        title=layout.title,
        outputs=len(layout.streams[0].outputs),
        size=box_of(layout),
        streams=tuple(StreamSpec(r.stream.name, r.stream.item, r.face) for r in readings),
        rulebook=load_rulebook(),
        items=dict(layout.items),
        overrides=dict(layout.rules),
    )
    return spec, readings


def moved_to_origin(layout: Layout) -> Layout:
    """The layout with its parts' box at the origin: nothing but its place changes. Raises InputError without parts."""
    if not layout.parts:
        raise InputError("there is nothing built; a layout to be bettered has a row and what it serves", field="parts")
    low = [min(part.at[axis] for part in layout.parts) for axis in range(3)]

    def move(cell: Cell) -> Cell:
        return cell[0] - low[0], cell[1] - low[1], cell[2] - low[2]

    w, d, h = (max(part.at[axis] for part in layout.parts) - low[axis] + 1 for axis in range(3))
    return replace(
        layout,
        size=(w, d, h),
        parts=tuple(replace(part, at=move(part.at)) for part in layout.parts),
        streams=tuple(replace(s, source=move(s.source), outputs=tuple(map(move, s.outputs))) for s in layout.streams),
    )


def _reading(layout: Layout, stream: Stream) -> StreamReading:
    row = _row_below(layout, stream)
    drops = [step(cell, "D") for cell in row[1:]]
    for cell in drops:
        if not isinstance(layout.by_cell.get(cell), Node):
            raise InputError(f"no node at {cell_text(cell)} below the row to serve a furnace", field=_field(stream))
    faces: set[Face] = set()
    served = []
    for cell in drops:
        node = layout.by_cell[cell]
        assert isinstance(node, Node)
        served.append(step(cell, node.outlet))
        faces.add("top" if node.outlet == "D" else "side")
    if sorted(served) != sorted(stream.outputs):
        raise InputError("its B nodes do not each serve one of its outputs", field=_field(stream))
    if len(faces) > 1:
        raise InputError("some outputs are served from the top, some from the side", field=_field(stream))
    into_furnaces = all(isinstance(layout.by_cell.get(cell), Furnace) for cell in served)
    lock = _lock(layout, stream, row, drops)
    return StreamReading(stream, faces.pop(), tuple(row), tuple(drops), lock, into_furnaces)


def _row_below(layout: Layout, stream: Stream) -> list[Cell]:
    """T0..TN: from the node below the source, each node that the one before pushes into."""
    row: list[Cell] = []
    ahead = step(stream.source, "D")
    for i in range(len(stream.outputs) + 1):
        node = layout.by_cell.get(ahead)
        if not isinstance(node, Node):
            raise InputError(f"no node at {cell_text(ahead)}, where T{i} should be", field=_field(stream))
        row.append(ahead)
        ahead = step(ahead, node.outlet)
    return row


def _lock(layout: Layout, stream: Stream, row: list[Cell], drops: list[Cell]) -> tuple[LockReading, ...]:
    """What the B nodes' locks settle to with T0 and TN holding an item or not."""
    readings = []
    for head in (False, True):
        for tail in (False, True):
            held = {cell for cell, holds in ((row[0], head), (row[-1], tail)) if holds}
            parts = tuple(
                replace(part, holds=((stream.item, 1),) if part.at in held else ()) if isinstance(part, Node) else part
                for part in layout.parts
            )
            world = World(replace(layout, parts=parts))
            locked = {world.field.locked[world.nodes[cell].number] for cell in drops}
            readings.append(LockReading(head, tail, locked.pop() if len(locked) == 1 else None))
    return tuple(readings)


def _field(stream: Stream) -> str:
    return f"streams.{stream.name}"


def _holds(holds: bool) -> str:
    return "holds something" if holds else "is empty"
