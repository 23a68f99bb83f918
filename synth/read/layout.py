"""The question that a finished layout answers: streams, faces, row, scheme, what the locks do, read off it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sim.analysis.production.lines import product_lines
from sim.errors import InputError
from sim.world.geometry import Cell, cell_text, step
from sim.world.layout import Layout, Stream
from sim.world.parts import Furnace, Node
from sim.world.rulebook import default_rules, load_rulebook
from synth.ask.spec import Face, Spec, StreamSpec
from synth.confirm.built import box_of
from synth.model.images import moved
from synth.read.locks import LockReading, fits, lock_readings
from synth.schemes.registry import schemes
from synth.schemes.scheme import Scheme


@dataclass(frozen=True, slots=True)
class StreamReading:
    """A stream as it is built: the face it enters by, its row of T nodes, its B nodes in that order, what its locks do.

    ``scheme``: the one whose lock table it keeps (None: of no scheme that is known). ``lock``: the rows of its table,
    or of the most promising scheme with such a row.
    """

    stream: Stream
    face: Face
    row: tuple[Cell, ...]
    drops: tuple[Cell, ...]
    lock: tuple[LockReading, ...]
    into_furnaces: bool
    scheme: Scheme | None
    likeliest: Scheme

    @property
    def is_burst_row(self) -> bool:
        """The locks do what the burst row asks, in every row of its table."""
        return self.scheme is not None and self.scheme.name == "burst row"

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
            yield f"  {reading.sentence(self.likeliest, count)}"
        article = "an" if self.likeliest.name[0] in "aeiou" else "a"
        yield f"  {'as' if self.scheme else 'not as'} {article} {self.likeliest.name} has it"


def spec_of_layout(layout: Layout) -> tuple[Spec, list[StreamReading]]:
    """The spec that a layout is an answer to, its site the box around its parts; and what was read off.

    The scheme is the one that was read (the burst row where none was), and so is what it is even for.
    Raises InputError where a stream is carried by no row as the schemes have it, or streams differ in their furnaces.
    """
    if not layout.streams:
        raise InputError("there is no stream to be split", field="streams")
    readings = [_reading(layout, stream) for stream in layout.streams]
    if serves_apart(layout):
        raise InputError("the streams have different outputs; all must feed the same furnaces", field="streams")
    scheme = asked_scheme(readings)
    spec = Spec(
        title=layout.title,
        outputs=len(layout.streams[0].outputs),
        size=box_of(layout),
        streams=tuple(StreamSpec(r.stream.name, r.stream.item, r.face) for r in readings),
        rulebook=load_rulebook(),
        items=dict(layout.items),
        overrides=dict(layout.rules),
        even_for=scheme.even_for[-1],
        leftovers=scheme.leaves,
        scheme=scheme.name,
    )
    return spec, readings


def is_of_a_hall(layout: Layout) -> bool:
    """Several streams serve furnaces, not all the same ones, or the same ones with their product collected."""
    served = {cell for stream in layout.streams for cell in stream.outputs}
    if len(layout.streams) < 2 or len(served) < 2:
        return False
    if not all(isinstance(layout.by_cell.get(cell), Furnace) for cell in served):
        return False
    return serves_apart(layout) or bool(product_lines(layout, default_rules()))


def serves_apart(layout: Layout) -> bool:
    """Its streams do not all serve the same furnaces."""
    return len({frozenset(stream.outputs) for stream in layout.streams}) > 1


def asked_scheme(readings: Sequence[StreamReading]) -> Scheme:
    """The scheme of which a better layout is asked for: the one that was read, of all streams alike; else the first."""
    read = {reading.scheme for reading in readings}
    return (read.pop() if len(read) == 1 else None) or next(iter(schemes().values()))


def moved_to_origin(layout: Layout) -> Layout:
    """The layout with its parts' box at the origin: nothing but its place changes. Raises InputError without parts."""
    if not layout.parts:
        raise InputError("there is nothing built; a layout to be bettered has a row and what it serves", field="parts")
    low = [min(part.at[axis] for part in layout.parts) for axis in range(3)]
    w, d, h = (max(part.at[axis] for part in layout.parts) - low[axis] + 1 for axis in range(3))
    return moved(layout, (-low[0], -low[1], -low[2]), (w, d, h))


def _reading(layout: Layout, stream: Stream) -> StreamReading:
    first = first_number(layout, stream)
    row = _row_below(layout, stream, first)
    drops = [step(cell, "D") for cell in row[1 - first :]]
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
    alike = [one for one in schemes().values() if one.first == first and len(stream.outputs) >= one.outputs_least]
    found = next((one for one in alike if fits(layout, stream, one, row, drops)), None)
    shown = found or alike[0]
    lock = tuple(lock_readings(layout, stream, shown, row, drops))
    return StreamReading(stream, faces.pop(), tuple(row), tuple(drops), lock, into_furnaces, found, shown)


def first_number(layout: Layout, stream: Stream) -> int:
    """That of the schemes' rows with as many nodes before the first one below which a node serves an output; where some
    B is missing, so that there seem to be more than any row has, of the row with the next fewer (no such B: 0)."""
    ahead, seen = step(stream.source, "D"), 0
    while isinstance(node := layout.by_cell.get(ahead), Node) and seen < len(layout.parts):
        below = layout.by_cell.get(step(ahead, "D"))
        if isinstance(below, Node) and step(below.at, below.outlet) in stream.outputs:
            break
        ahead, seen = step(ahead, node.outlet), seen + 1
    else:
        return 0
    known = {scheme.first for scheme in schemes().values()}
    return min(first for first in known if first >= min(1 - seen, max(known)))


def _row_below(layout: Layout, stream: Stream, first: int) -> list[Cell]:
    """The T nodes: from the one below the source, each node that the one before pushes into."""
    row: list[Cell] = []
    ahead = step(stream.source, "D")
    for i in range(first, len(stream.outputs) + 1):
        node = layout.by_cell.get(ahead)
        if not isinstance(node, Node):
            raise InputError(f"no node at {cell_text(ahead)}, where T{i} should be", field=_field(stream))
        row.append(ahead)
        ahead = step(ahead, node.outlet)
    return row


def _field(stream: Stream) -> str:
    return f"streams.{stream.name}"
