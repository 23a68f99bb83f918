"""Self-avoiding walks: the ways a row of nodes can run and bend.

Checked against the published counts on the square and the cubic lattice (OEIS A001411, A001412).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from sim.world.geometry import Cell, Direction, step

Walk = tuple[Cell, ...]


def self_avoiding_walks(
    start: Cell, steps: int, directions: Sequence[Direction], inside: Callable[[Cell], bool]
) -> Iterator[Walk]:
    """Every walk of that many steps from ``start``: unit steps in ``directions``, no cell twice, all cells ``inside``.

    In the order of ``directions``, depth first. The number of walks grows exponentially in ``steps``.
    """
    if inside(start):
        yield from _extended((start,), steps, directions, inside)


def _extended(
    walk: Walk, steps: int, directions: Sequence[Direction], inside: Callable[[Cell], bool]
) -> Iterator[Walk]:
    if steps == 0:
        yield walk
        return
    for direction in directions:
        ahead = step(walk[-1], direction)
        if ahead not in walk and inside(ahead):
            yield from _extended((*walk, ahead), steps - 1, directions, inside)
