"""The item network of a row (synth/schemes): bin over the first T, the T in a chain, B under T1..TN, targets.

The row steps horizontally, so that it lies in one layer and may bend anywhere. A node pulls from any container above
it and pushes into any container before its outlet, so every such neighbourhood that the scheme does not mean is
excluded.
"""

from __future__ import annotations

from sim.world.geometry import HORIZONTAL, Cell, step
from synth.model.vocabulary import FURNACE, Vocabulary, back, drop_node, row_node, source_bin


def row_is_a_chain(v: Vocabulary) -> None:
    """Each T stands once; T(i+1) stands beside Ti; the bin over the first."""
    n, first = v.question.outputs, v.question.scheme.first
    for s in v.streams:
        for i in range(first, n + 1):
            v.clauses.exactly_one(v.is_(cell, row_node(s, i)) for cell in v.cells)
        v.clauses.exactly_one(v.is_(cell, source_bin(s)) for cell in v.cells)
        for cell in v.cells:
            for i in range(first, n):
                _beside(v, cell, s, i, i + 1)
                _beside(v, cell, s, i + 1, i)
            v.clauses.add(-v.is_(cell, row_node(s, first)), v.is_(step(cell, "U"), source_bin(s)))
            v.clauses.add(-v.is_(cell, source_bin(s)), v.is_(step(cell, "D"), row_node(s, first)))


def _beside(v: Vocabulary, cell: Cell, stream: int, i: int, j: int) -> None:
    around = [v.is_(step(cell, d), row_node(stream, j)) for d in HORIZONTAL]
    v.clauses.add(-v.is_(cell, row_node(stream, i)), *around)


def drops_hang_below(v: Vocabulary) -> None:
    """A B node stands just below each of T1..TN, and nowhere else."""
    for s in v.streams:
        for cell in v.cells:
            upper = step(cell, "U")
            beneath_row = [v.is_(upper, row_node(s, i)) for i in range(1, v.question.outputs + 1)]
            v.clauses.add(-v.is_drop(cell, s), *beneath_row)
            for i in range(1, v.question.outputs + 1):
                v.clauses.add(-v.is_(cell, row_node(s, i)), v.is_drop(step(cell, "D"), s))


def drops_feed_furnaces(v: Vocabulary) -> None:
    """Each B node's outlet leads into a furnace; each furnace gets just one B node of each stream."""
    for s, stream in enumerate(v.question.streams):
        outlets = ("D",) if stream.face == "top" else HORIZONTAL
        for cell in v.cells:
            furnace = v.is_(cell, FURNACE)
            feeders = [v.is_(back(cell, outlet), drop_node(s, outlet)) for outlet in outlets]
            v.clauses.add(-furnace, *feeders)
            for k, feeder in enumerate(feeders):
                for other in feeders[:k]:
                    v.clauses.add(-feeder, -other)
            for outlet in outlets:
                v.clauses.add(-v.is_(cell, drop_node(s, outlet)), v.is_(step(cell, outlet), FURNACE))


def nothing_else_is_pulled(v: Vocabulary) -> None:
    """No container stands above the T but the first; no node below a T without a B, or below a furnace: it would
    pull."""
    first = v.question.scheme.first
    for cell in v.cells:
        above = v.is_container(step(cell, "U"))
        nodes = [lit for s in v.streams for lit in (v.is_row(cell, s), v.is_drop(cell, s))]
        for s in v.streams:
            for i in range(first + 1, v.question.outputs + 1):
                v.clauses.add(-v.is_(cell, row_node(s, i)), -above)
            for i in range(first, 1):
                for node in nodes:
                    v.clauses.add(-v.is_(step(cell, "U"), row_node(s, i)), -node)
        for node in nodes:
            v.clauses.add(-v.is_(step(cell, "U"), FURNACE), -node)


def tail_pushes_into_nothing(v: Vocabulary) -> None:
    """TN can be turned so that its outlet leads into no container."""
    n = v.question.outputs
    for s in v.streams:
        for cell in v.cells:
            free = [-v.is_container(step(cell, d)) for d in HORIZONTAL]
            v.clauses.add(-v.is_(cell, row_node(s, n)), *free)


def pins(v: Vocabulary) -> None:
    """Where the question pins the source or the furnaces, they stand there; ``unbent`` and ``straight`` pin how the
    row runs."""
    for s, stream in enumerate(v.question.streams):
        for cell in v.cells:
            if stream.source_cells is not None and cell not in stream.source_cells:
                v.clauses.add(-v.is_(cell, source_bin(s)))
            if stream.outputs_at and cell not in stream.outputs_at:
                v.clauses.add(-v.is_(cell, FURNACE))
        if v.question.unbent:
            for cell in v.cells:
                _goes_on_straight(v, cell, s)
        if v.question.straight is not None:
            for cell in v.cells:
                ahead: Cell = step(cell, v.question.straight)
                for i in range(1 if v.question.beside else v.question.scheme.first, v.question.outputs):
                    v.clauses.add(-v.is_(cell, row_node(s, i)), v.is_(ahead, row_node(s, i + 1)))


def _goes_on_straight(v: Vocabulary, cell: Cell, stream: int) -> None:
    """From Ti here to T(i+1) there, T(i+2) lies in the same direction."""
    for direction in HORIZONTAL:
        ahead = step(cell, direction)
        for i in range(v.question.scheme.first, v.question.outputs - 1):
            here, there = v.is_(cell, row_node(stream, i)), v.is_(ahead, row_node(stream, i + 1))
            v.clauses.implies((here, there), v.is_(step(ahead, direction), row_node(stream, i + 2)))
