"""Ways of a row in a box that a lock can be laid along: sources of candidates, no cover of what there is.

A solver that is told where the T nodes stand finds the wiring in seconds where it would search for minutes for both.
What locks the B nodes runs beside them, so each needs a free cell at its side; what the gauges say is made of parts
near both ends of the row, so there must be room; and with both ends side by side (two legs back to back, a lock line on
each outer side) that room is shared: rows of six so folded were wired in seconds, straight burst rows of five not in a
minute.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import Final

from sim.world.geometry import HORIZONTAL, Cell, step
from synth.model.clauses import Lit
from synth.model.question import Question
from synth.model.vocabulary import FURNACE, LINE, SUPPORT, Vocabulary
from synth.search.exact.cubes import image_of, symmetries
from synth.search.exact.walks import Walk

Flat = tuple[tuple[int, int], ...]
"""A way seen from above, its low corner at the origin."""

LAYERS_TRIED: Final = 2
"""Layers that T nodes are put in, the lowest there can be first."""
ROOM_NEAR: Final = 3
"""How far from an end of the row free cells count."""
ROOM_ENOUGH: Final = 16
"""Free cells near the ends that are enough."""


def ways(question: Question) -> Iterator[Walk]:
    """Ways of the first stream's row in the box, the most promising first, one of each set of mirror images.

    Straight ones; two legs back to back, or with one or two cells between; one bend; three to five legs. All lie within
    the box, clear of what is blocked, with room for the bin above, and for B nodes and furnaces below.
    """
    size, group = question.grid.size, symmetries(question)
    ranked: dict[Walk, tuple[int, int, int, Walk]] = {}
    for rank, shape in enumerate(_shapes(question)):
        for flat in _turned(shape):
            for walk in _placed(question, flat):
                first = min(tuple(image_of(cell, one, size) for cell in walk) for one in group)
                if first not in ranked:
                    bare, wanting = _burden(question, first)
                    ranked[first] = (bare, rank, wanting, first)
    yield from sorted(ranked, key=lambda walk: ranked[walk])


def legs(lengths: tuple[int, ...], gap: int) -> Flat:
    """A way in legs of so many cells each, to and fro, with ``gap`` cells from one leg to the next."""
    cells, x, y, ahead = [(0, 0)], 0, 0, 1
    for number, length in enumerate(lengths):
        for _ in range(length - 1):
            x += ahead
            cells.append((x, y))
        if number + 1 < len(lengths):
            for _ in range(gap + 1):
                y += 1
                cells.append((x, y))
        ahead = -ahead
    return tuple(cells)


def locks_told(v: Vocabulary, walk: Walk) -> Iterator[tuple[Lit, ...]]:
    """Clauses that lay lock lines along a straight row, or one of two legs back to back: a line beside every T that has
    a B, on the outer side, over a support (side-fed: over a furnace). None for other ways.

    That narrows the search much further than the way alone: rows of eight are wired in seconds.
    """
    under = SUPPORT if v.question.streams[0].face == "top" else FURNACE
    for x, y, z in lock_lines(v.question, walk):
        yield (v.is_((x, y, z), LINE),)
        yield (v.is_((x, y, z - 1), under),)


def lock_lines(question: Question, walk: Walk) -> list[Cell]:
    """Where the lines of ``locks_told`` run; no cell where one of them would be outside the box or is blocked."""
    axis = 0 if walk[0][1] == walk[1][1] else 1
    across = 1 - axis
    legs_at = sorted({cell[across] for cell in walk})
    if len(legs_at) > 2 or legs_at[-1] - legs_at[0] > 1:
        return []
    sides = {legs_at[0]: legs_at[0] - 1, legs_at[-1]: legs_at[-1] + 1}
    served = walk[1 - question.scheme.first :]
    lines = [_at(cell, across, sides[cell[across]]) for cell in served]
    taken = question.grid.blocked
    below = [step(cell, "D") for cell in lines]
    return lines if all(cell in question.grid and cell not in taken for cell in (*lines, *below)) else []


def _at(cell: Cell, axis: int, to: int) -> Cell:
    return (to, cell[1], cell[2]) if axis == 0 else (cell[0], to, cell[2])


def _shapes(question: Question) -> Iterator[Flat]:
    """Ways of the row's length seen from above, by how soon they were answered: where gauges read both ends, rows with
    both ends side by side come first, and straight ones last."""
    length = question.scheme.row_length(question.outputs)
    bent = [] if question.unbent else list(_bent(length))
    of_both_ends = len({watch.nodes for watch in question.scheme.watches}) > 1
    yield from [*bent, legs((length,), 0)] if of_both_ends else [legs((length,), 0), *bent]


def _bent(length: int) -> Iterator[Flat]:
    for gap in (0, 2, 1):
        for longer in (0, 1, 2, -1):
            double = length - gap - longer
            if double % 2 == 0 and double >= 4 and double // 2 + longer >= 2:
                yield legs((double // 2 + longer, double // 2), gap)
    for first in sorted(range(1, length - 1), key=lambda k: (-abs(2 * k - length + 1), k)):
        yield (*((x, 0) for x in range(first + 1)), *((first, y) for y in range(1, length - first)))
    for number, gap in product((4, 3, 5), (0, 1, 2)):
        each = -(-(length - gap * (number - 1)) // number)
        if each >= 2:
            yield legs((each,) * number, gap)[:length]


def _turned(shape: Flat) -> list[Flat]:
    """The shape in every way it can be turned and mirrored, each once."""
    found = {}
    for swap, along, across in product((False, True), (1, -1), (1, -1)):
        cells = [(along * a, across * b) for a, b in ((y, x) if swap else (x, y) for x, y in shape)]
        low = min(a for a, _ in cells), min(b for _, b in cells)
        found[tuple((a - low[0], b - low[1]) for a, b in cells)] = True
    return list(found)


def _placed(question: Question, flat: Flat) -> Iterator[Walk]:
    """Wherever the way fits the box."""
    width, depth, height = question.grid.size
    wide, deep = (max(cell[axis] for cell in flat) + 1 for axis in (0, 1))
    lowest = _layers_below(question)
    for z in range(lowest, min(lowest + LAYERS_TRIED, height - 1)):
        for x, y in product(range(width - wide + 1), range(depth - deep + 1)):
            walk = tuple((x + a, y + b, z) for a, b in flat)
            if _is_possible(question, walk):
                yield walk


def _layers_below(question: Question) -> int:
    """Layers that a T needs below itself: B, and the furnace where it is fed from the top."""
    return 2 if question.streams[0].face == "top" else 1


def _is_possible(question: Question, walk: Walk) -> bool:
    stream, first, blocked = question.streams[0], question.scheme.first, question.grid.blocked
    source = step(walk[0], "U")
    drops = [step(cell, "D") for cell in walk[1 - first :]]
    targets = [step(cell, "D") for cell in drops] if stream.face == "top" else []
    if stream.source_cells is not None and source not in stream.source_cells:
        return False
    if stream.outputs_at and stream.face == "top" and set(targets) != set(stream.outputs_at):
        return False
    if stream.outputs_at and stream.face == "side" and not all(_beside(cell, stream.outputs_at) for cell in drops):
        return False
    return not blocked.intersection((source, *walk, *drops, *targets))


def _beside(cell: Cell, others: tuple[Cell, ...]) -> bool:
    return any(step(cell, direction) in others for direction in HORIZONTAL)


def _burden(question: Question, walk: Walk) -> tuple[int, int]:
    """B nodes without a free cell at a side; cells that are wanting near the ends of the row."""
    taken = set(walk)

    def is_free(cell: Cell) -> bool:
        return cell in question.grid and cell not in question.grid.blocked and cell not in taken

    bare = [cell for cell in walk[1 - question.scheme.first :] if not any(is_free(step(cell, d)) for d in HORIZONTAL)]
    near = {
        cell for end in (walk[0], walk[-1]) for dx, dy in product(range(-ROOM_NEAR, ROOM_NEAR + 1), repeat=2)
        if abs(dx) + abs(dy) <= ROOM_NEAR and is_free(cell := (end[0] + dx, end[1] + dy, end[2]))
    }  # fmt: skip
    return len(bare), max(0, ROOM_ENOUGH - len(near))
