"""One input for all wings of a hall: splits in front that hand items on to the wings' bins by turns (``known/joined``).

The split stands above what it feeds. Bins of wings at one place along the hall come first, then those places: so a hall
of two sides and two wings each has three splits of two a stream. Numbers with other factors than two and three can't
be had.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Final

from sim.world.geometry import Cell
from sim.world.parts import Part
from synth.model.images import Turn, mirrored, turned_part
from synth.search.known.joined import Front, in_front

WIDTHS: Final = (2, 3)
"""Ways of the splits that stand in front."""
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


def _across_and_along(bins: Sequence[Cell], raised: int) -> Front | None:
    """Splits for each place along x, then those in front of them."""
    parts: list[Part] = []
    sources: list[Cell] = []
    for _, there in groupby(sorted(bins), key=lambda cell: cell[0]):
        front = _along_y(list(there), raised)
        if front is None:
            return None
        parts += front.parts
        sources.append(front.source)
    last = _in_a_line(sources, 0 if parts else raised)
    return None if last is None else Front((*parts, *last.parts), last.source)


def _along_y(bins: Sequence[Cell], raised: int) -> Front | None:
    front = _in_a_line([(y, x, z) for x, y, z in bins], raised)
    return None if front is None else _turned(front, mirrored)


def _in_a_line(bins: Sequence[Cell], raised: int) -> Front | None:
    """Splits of two or three, one above the other, in front of bins in a line along x; None: they stand in no line, or
    are of a number that no such splits make."""
    if len(bins) == 1:
        return Front((), bins[0])
    width = next((width for width in WIDTHS if len(bins) % width == 0), 0)
    if not width or len({cell[1:] for cell in bins}) > 1:
        return None
    fronts = [in_front(bins[k : k + width], raised) for k in range(0, len(bins), width)]
    there = [front for front in fronts if front is not None]
    if len(there) < len(fronts):
        return None
    last = _in_a_line([front.source for front in there], 0)
    if last is None:
        return None
    return Front((*(part for front in there for part in front.parts), *last.parts), last.source)


def _turned(front: Front, turn: Turn) -> Front:
    def move(cell: Cell) -> Cell:
        return (*turn(cell[0], cell[1]), cell[2])

    return Front(tuple(turned_part(part, turn, move) for part in front.parts), move(front.source))
