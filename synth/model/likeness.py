"""A finished layout in the words of the model: literals that say that cells hold what they do in it."""

from __future__ import annotations

from sim.world.geometry import HORIZONTAL, Cell, Direction, step
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support
from synth.model.clauses import TRUE, Lit
from synth.model.vocabulary import (
    EMPTY,
    FURNACE,
    LINE,
    SUPPORT,
    Vocabulary,
    drop_node,
    inverter,
    relay,
    row_node,
    source_bin,
)


def same_literals(v: Vocabulary, build: Layout) -> dict[Cell, Lit]:
    """For each cell of the box (which is the layout's), a literal that holds just when it holds what the build has."""
    standing = v.question.standing
    return {cell: TRUE if cell in standing else _same(v, cell, build.by_cell.get(cell)) for cell in v.cells}


def _same(v: Vocabulary, cell: Cell, part: Part | None) -> Lit:
    match part:
        case None:
            return v.is_(cell, EMPTY)
        case Support():
            return v.is_(cell, SUPPORT)
        case Line():
            return v.is_(cell, LINE)
        case Furnace():
            return v.is_(cell, FURNACE)
        case Bin():
            return v.clauses.any_of(v.is_(cell, source_bin(s)) for s in v.streams)
        case Inverter(mount=mount):
            return v.is_(cell, inverter(mount))
        case Gauge(output=output):
            return v.is_gauge(cell, output)
        case Relay(output=output, delay=delay):
            return v.clauses.both(v.is_(cell, relay(output)), v.delay[cell][delay])
        case Node(outlet=outlet):
            return _same_node(v, cell, outlet)


def _same_node(v: Vocabulary, cell: Cell, outlet: Direction) -> Lit:
    """A B node by its outlet; a T node that pushes into the next one; the last T where it pushes into nothing."""
    ways = [v.is_(cell, drop_node(s, outlet)) for s in v.streams]
    if outlet in HORIZONTAL:
        last = v.question.outputs
        ahead = step(cell, outlet)
        for s in v.streams:
            ways.append(v.clauses.both(v.is_(cell, row_node(s, last)), -v.is_container(ahead)))
            for i in range(v.question.scheme.first, last):
                ways.append(v.clauses.both(v.is_(cell, row_node(s, i)), v.is_(ahead, row_node(s, i + 1))))
    return v.clauses.any_of(ways)
