"""A question cut into cubes: one for each way the first row may run (cube and conquer, Heule et al. 2011).

A cube fixes the first T, the bin above it, and the way of the row, or the beginning of the way where rows are long.
Together the cubes cover the question; with symmetry broken, one cube stands for all of its mirror images and rotations.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise, product
from typing import Final

from sim.world.geometry import HORIZONTAL, Cell, Direction, step
from synth.model.clauses import Lit
from synth.model.question import Question
from synth.model.vocabulary import Vocabulary, row_node, source_bin
from synth.search.exact.walks import Walk, self_avoiding_walks

CUBES_MOST: Final = 400
"""Rows are followed only so far that no more cubes than this come of it."""
STREAM: Final = 0
"""The stream whose row is cut into cubes."""


def cubes_of(question: Question) -> list[Walk]:
    """The ways of the first row: whole ones, or, where there are too many, their beginnings. At most CUBES_MOST, or one
    for each place of the first T."""
    found = sorted(_beginnings(question, 0))
    for steps in range(1, question.scheme.row_length(question.outputs)):
        longer = sorted(_beginnings(question, steps))
        if len(longer) > CUBES_MOST:
            break
        found = longer
    return found


def literals_of(v: Vocabulary, cube: Walk) -> list[Lit]:
    """What the cube says, as literals of a model of its question; of the empty cube: nothing."""
    if not cube:
        return []
    row = [v.is_(cell, row_node(STREAM, i)) for i, cell in enumerate(cube, v.question.scheme.first)]
    return [v.is_(step(cube[0], "U"), source_bin(STREAM)), *row]


def symmetries(question: Question) -> list[Sequence[int]]:
    """The symmetries of the box that leave the question as it is: (turned, mirrored in x, mirrored in y) each."""
    if not question.break_symmetry or question.straight is not None:
        return [(0, 0, 0)]
    width, depth, _ = question.grid.size
    return list(product((0, 1) if width == depth else (0,), (0, 1), (0, 1)))


def image_of(cell: Cell, symmetry: Sequence[int], size: tuple[int, int, int]) -> Cell:
    """Where a symmetry of the box takes a cell."""
    turned, mirrored_x, mirrored_y = symmetry
    x = size[0] - 1 - cell[0] if mirrored_x else cell[0]
    y = size[1] - 1 - cell[1] if mirrored_y else cell[1]
    return (y, x, cell[2]) if turned else (x, y, cell[2])


def _beginnings(question: Question, steps: int) -> Iterator[Walk]:
    """Every way that a row can take for that many steps, one of each set of images."""
    size, group = question.grid.size, symmetries(question)
    directions: tuple[Direction, ...] = HORIZONTAL if question.straight is None else (question.straight,)
    for start in _heads(question):
        for walk in self_avoiding_walks(start, steps, directions, lambda cell: _is_free(question, cell)):
            if question.unbent and _bends(walk):
                continue
            images = (tuple(image_of(cell, one, size) for cell in walk) for one in group)
            if all(walk <= image for image in images):
                yield walk


def _bends(walk: Walk) -> bool:
    """Some step goes in another direction than the first."""
    return len({tuple(b - a for a, b in zip(*pair, strict=True)) for pair in pairwise(walk)}) > 1


def _heads(question: Question) -> Iterator[Cell]:
    """Where the first T may stand: room for the bin above it, and below it for what hangs under the row."""
    stream = question.streams[STREAM]
    lowest = 2 if stream.face == "top" else 1
    for cell in question.grid:
        above = step(cell, "U")
        sourced = stream.source_cells is None or above in stream.source_cells
        if cell[2] >= lowest and above in question.grid and sourced and _is_free(question, above):
            yield cell


def _is_free(question: Question, cell: Cell) -> bool:
    return cell in question.grid and cell not in question.grid.blocked
