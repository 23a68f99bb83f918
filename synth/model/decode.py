"""From the values of the decision variables to a layout."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from sim.world.geometry import HORIZONTAL, OPPOSITE, Cell, Direction, step
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import DELAYS, Bin, Furnace, Gauge, Holds, Inverter, Line, Node, Part, Relay, Support
from synth.ask.spec import Spec
from synth.model.clauses import Lit
from synth.model.vocabulary import EMPTY, Kind, Vocabulary
from synth.schemes.registry import scheme_of

Value = Callable[[Lit], bool]
"""The value of a literal in a solution."""

def chosen_kinds(v: Vocabulary, value: Value) -> dict[Cell, Kind]:
    """What each cell of the box holds in a solution."""
    return {cell: next(k for k, lit in kinds.items() if value(lit)) for cell, kinds in v.kind.items()}


def layout_of(v: Vocabulary, value: Value, spec: Spec) -> Layout:
    """The layout that a solution stands for, in the site's coordinates, parts in reading order."""
    ox, oy, oz = v.question.origin
    delays = {(x + ox, y + oy, z + oz): delay for (x, y, z), delay in chosen_delays(v, value).items()}
    kinds = {(x + ox, y + oy, z + oz): kind for (x, y, z), kind in chosen_kinds(v, value).items()}
    starts = [scheme_of(spec).start(s.item, spec.stack_of(s.item), spec.rules) for s in spec.streams]
    parts = {cell: part for cell in kinds if (part := _part(cell, kinds, delays[cell], starts)) is not None}
    streams = tuple(_stream(kinds, s, spec) for s in v.streams)
    return Layout(
        title=spec.title,
        size=v.question.site or v.question.grid.size,
        items=items_of(spec),
        parts=tuple(parts[cell] for cell in sorted(parts, key=reading_order)),
        streams=streams,
        rules=dict(spec.overrides),
    )


def box_cells(v: Vocabulary, parts: Iterable[Part]) -> set[Cell]:
    """The cells of some parts of a layout, in the box's coordinates."""
    ox, oy, oz = v.question.origin
    return {(x - ox, y - oy, z - oz) for x, y, z in (part.at for part in parts)}


def chosen_delays(v: Vocabulary, value: Value) -> dict[Cell, int]:
    """The delay that a relay in each cell of the box would have."""
    return {cell: next(d for d in DELAYS if value(lits[d])) for cell, lits in v.delay.items()}


def reading_order(cell: Cell) -> tuple[int, int, int]:
    """Layers from the ground up, north first, west first."""
    return cell[2], -cell[1], cell[0]


def items_of(spec: Spec) -> Mapping[str, ItemKind]:
    """The item kinds that a layout for the spec lists: those of the spec, and what the streams carry."""
    known = dict(spec.items)
    for stream in spec.streams:
        known.setdefault(stream.item, ItemKind(burn=spec.rulebook.burns.get(stream.item, 0)))
    return known


def _part(cell: Cell, kinds: Mapping[Cell, Kind], delay: int, starts: Sequence[Holds]) -> Part | None:
    """``starts``: what the row of each stream holds at the start."""
    kind = kinds[cell]
    match kind.name:
        case "furnace":
            return Furnace(cell)
        case "bin":
            return Bin(cell, "marked" if kind.stream % 2 else "plain")
        case "row":
            return Node(cell, _row_outlet(cell, kinds), starts[kind.stream])
        case "drop":
            return Node(cell, _direction(kind))
    return wiring_part(cell, kind, delay)


def wiring_part(cell: Cell, kind: Kind, delay: int) -> Part | None:
    """The support or signal part that a cell holds (None: something else)."""
    match kind.name:
        case "support":
            return Support(cell)
        case "line":
            return Line(cell)
        case "inverter":
            return Inverter(cell, _direction(kind))
        case "relay":
            return Relay(cell, _direction(kind), delay)
        case "gauge":
            return Gauge(cell, _direction(kind))
    return None


def _direction(kind: Kind) -> Direction:
    assert kind.direction is not None
    return kind.direction


def _row_outlet(cell: Cell, kinds: Mapping[Cell, Kind]) -> Direction:
    """Toward the next node of the row; for the last one toward a cell without a container, straight on if it can be."""
    kind = kinds[cell]

    def is_row(other: Cell, index: int) -> bool:
        there = kinds.get(other, EMPTY)
        return there.name == "row" and there.stream == kind.stream and there.index == index

    ahead = [d for d in HORIZONTAL if is_row(step(cell, d), kind.index + 1)]
    if ahead:
        return ahead[0]
    came_from = [d for d in HORIZONTAL if is_row(step(cell, OPPOSITE[d]), kind.index - 1)]
    containers = ("row", "drop", "bin", "furnace", "standing")
    free = [d for d in (*came_from, *HORIZONTAL) if kinds.get(step(cell, d), EMPTY).name not in containers]
    return free[0]


def _stream(kinds: Mapping[Cell, Kind], number: int, spec: Spec) -> Stream:
    """The stream with its outputs in the order of the row."""
    mine = {cell: kind for cell, kind in kinds.items() if kind.stream == number}
    source = next(cell for cell, kind in mine.items() if kind.name == "bin")
    row = {kind.index: cell for cell, kind in mine.items() if kind.name == "row"}
    drops = [step(row[i], "D") for i in range(1, spec.outputs + 1)]
    outputs = tuple(step(drop, _direction(kinds[drop])) for drop in drops)
    asked = spec.streams[number]
    if asked.outputs_at:
        outputs = asked.outputs_at
    return Stream(asked.name, asked.item, source, outputs)
