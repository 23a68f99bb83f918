"""One input for all wings of a hall: splits in front that hand items on to the wings' bins by turns (``known/joined``).

The split stands above what it feeds. Bins of wings at one place along the hall come first, then those places: so a hall
of two sides and two wings each has three splits of two a stream.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Final

from sim.geometry import Cell
from sim.parts import Part
from synth.images import Turn, turned_part
from synth.known.joined import Front, in_front

RAISED_MOST: Final = 6
"""Layers that a split may stand higher than right above the bins."""


def with_one_input(bins: Sequence[Cell], taken: frozenset[Cell]) -> Iterator[Front]:
    """Splits in front of these bins, the lowest first, that take no cell twice; the bins must stand at the crossings of
    a grid, all at one height."""
    if len(bins) == 1:
        yield Front((), bins[0])
        return
    for raised in range(RAISED_MOST + 1):
        front = _across_and_along(bins, raised)
        if front is not None:
            cells = [part.at for part in front.parts]
            if len({*cells, *taken}) == len(cells) + len(taken):
                yield front


def _mirrored(x: int, y: int) -> tuple[int, int]:
    return y, x


def _across_and_along(bins: Sequence[Cell], raised: int) -> Front | None:
    """One split for each place along x, then one in front of those."""
    parts: list[Part] = []
    sources: list[Cell] = []
    for _, there in groupby(sorted(bins), key=lambda cell: cell[0]):
        front = _along_y(list(there), raised)
        if front is None:
            return None
        parts += front.parts
        sources.append(front.source)
    if len(sources) == 1:
        return Front(tuple(parts), sources[0])
    if len({cell[1:] for cell in sources}) > 1:
        return None
    last = in_front(sources)
    return None if last is None else Front((*parts, *last.parts), last.source)


def _along_y(bins: Sequence[Cell], raised: int) -> Front | None:
    if len(bins) == 1:
        return Front((), bins[0])
    front = in_front([(y, x, z) for x, y, z in bins], raised)
    return None if front is None else _turned(front, _mirrored)


def _turned(front: Front, turn: Turn) -> Front:
    def move(cell: Cell) -> Cell:
        return (*turn(cell[0], cell[1]), cell[2])

    return Front(tuple(turned_part(part, turn, move) for part in front.parts), move(front.source))
