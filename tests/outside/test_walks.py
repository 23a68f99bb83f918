"""The enumeration of walks against published counts of self-avoiding walks.

Sources: the On-Line Encyclopedia of Integer Sequences (OEIS), terms read from its pages: A001412 (cubic lattice),
A001411 (square lattice), A330079 (the three walls of an octant), A335806 (a box of 3 x 3 x 3 cells, from the middle of
an edge), A187162 and its rows A187165, A187166, A187168 (cubes, from every cell), A338126 (between two planes).
A001333 (steps to three sides of the plane) is from memory. Counts by bends are worked out by hand.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from itertools import pairwise, product
from math import comb

import pytest

from sim.world.geometry import ALL_DIRECTIONS, HORIZONTAL, VECTORS, Cell, Direction
from synth.search.exact.walks import self_avoiding_walks

ORIGIN = (0, 0, 0)
Inside = Callable[[Cell], bool]


def anywhere(_: Cell) -> bool:
    return True


def within(box: tuple[int, int, int]) -> Inside:
    return lambda cell: all(0 <= c < limit for c, limit in zip(cell, box, strict=True))


def count(
    steps: int, directions: Sequence[Direction] = ALL_DIRECTIONS, inside: Inside = anywhere, start: Cell = ORIGIN
) -> int:
    return sum(1 for _ in self_avoiding_walks(start, steps, directions, inside))


# -- numbers of walks -------------------------------------------------------------------------------------------------

COUNTS: dict[str, tuple[Sequence[Direction], Inside, tuple[int, ...]]] = {
    "A001412, cubic lattice": (ALL_DIRECTIONS, anywhere, (1, 6, 30, 150, 726, 3534, 16926)),
    "A001411, square lattice": (HORIZONTAL, anywhere, (1, 4, 12, 36, 100, 284, 780, 2172, 5916, 16268)),
    "A001411, upright": (("E", "W", "U", "D"), anywhere, (1, 4, 12, 36, 100, 284, 780, 2172)),
    "A001333, three sides": (("E", "W", "N"), anywhere, (1, 3, 7, 17, 41, 99, 239, 577, 1393)),
    "powers of 3, three axes one way": (("E", "N", "U"), anywhere, (1, 3, 9, 27, 81, 243, 729, 2187)),
    "a line": (("S", "N"), anywhere, (1, 2, 2, 2, 2, 2)),
    "A330079, walls of an octant": (
        ALL_DIRECTIONS,
        lambda cell: min(cell) == 0,
        (1, 3, 9, 27, 75, 213, 585, 1623, 4425, 12123),
    ),
    "A338126, one layer beside the ground": (
        ALL_DIRECTIONS,
        lambda cell: cell[2] in (0, 1),
        (1, 5, 20, 80, 304, 1168, 4348, 16336),
    ),
    "A338126, two layers beside the ground": (
        ALL_DIRECTIONS,
        lambda cell: 0 <= cell[2] <= 2,
        (1, 5, 21, 92, 392, 1684, 7036),
    ),
}
"""Directions, where walks may go, and the numbers of walks of 0, 1, 2, ... steps from the origin."""


@pytest.mark.parametrize("name", COUNTS)
def test_as_many_walks_as_published(name: str) -> None:
    directions, inside, published = COUNTS[name]
    assert tuple(count(steps, directions, inside) for steps in range(len(published))) == published


def test_walks_shut_in_a_box() -> None:
    """A335806: three cells along each edge, which it calls a box of size 2."""
    published = (1, 4, 12, 40, 118, 358, 936, 2600, 6212, 16068)
    shown = tuple(count(n, inside=within((3, 3, 3)), start=(1, 0, 0)) for n in range(len(published)))
    assert shown == published


@pytest.mark.parametrize(
    ("cells", "published"),
    [
        (4, (0, 96, 1104, 3984, 9612, 18888, 32712)),
        (5, (0, 144, 3240, 14256, 37470)),
        (7, (0, 192, 25344, 177120)),
    ],
    ids=["A187165", "A187166", "A187168"],
)
def test_walks_in_cubes_from_every_cell(cells: int, published: tuple[int, ...]) -> None:
    """Rows of A187162. What it calls k steps are k cells: its examples number the cells visited from 1 to k."""
    for edge, expected in enumerate(published, 1):
        inside = within((edge, edge, edge))
        starts = product(range(edge), repeat=3)
        assert sum(count(cells - 1, inside=inside, start=(x, y, z)) for x, y, z in starts) == expected


# -- the walks themselves ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("directions", "inside", "start"),
    [
        (ALL_DIRECTIONS, anywhere, (4, -2, 7)),
        (("E", "W", "N", "D"), anywhere, (0, 0, 0)),
        (ALL_DIRECTIONS, within((4, 2, 3)), (1, 1, 0)),
    ],
)
def test_each_walk_keeps_to_the_rules_and_comes_once(
    directions: Sequence[Direction], inside: Inside, start: Cell
) -> None:
    for steps in range(6):
        walks = list(self_avoiding_walks(start, steps, directions, inside))
        assert len(walks) == len(set(walks)) > 0
        for walk in walks:
            assert walk[0] == start
            assert len(walk) == len(set(walk)) == steps + 1
            assert all(inside(cell) for cell in walk)
            assert steps_of(walk) <= {VECTORS[direction] for direction in directions}


def test_a_start_outside_has_no_walks() -> None:
    assert count(0, inside=within((2, 2, 2)), start=(2, 0, 0)) == 0
    assert count(3, inside=within((2, 2, 2)), start=(-1, 0, 0)) == 0


def steps_of(walk: Sequence[Cell]) -> set[Cell]:
    return {difference(a, b) for a, b in pairwise(walk)}


def difference(a: Cell, b: Cell) -> Cell:
    return b[0] - a[0], b[1] - a[1], b[2] - a[2]


# -- bends ------------------------------------------------------------------------------------------------------------


def bends(walk: Sequence[Cell]) -> int:
    steps = [difference(a, b) for a, b in pairwise(walk)]
    return sum(one != other for one, other in pairwise(steps))


def without_reversals(axes: int, steps: int) -> dict[int, int]:
    """Walks that never turn straight back, by bends: 2 * axes first steps; b of the other steps - 1 are bends, each
    into one of the 2 * axes - 2 directions that lie across."""
    across = 2 * axes - 2
    return {b: 2 * axes * across**b * comb(steps - 1, b) for b in range(steps)}


@pytest.mark.parametrize(("axes", "directions"), [(2, HORIZONTAL), (3, ALL_DIRECTIONS)], ids=["plane", "space"])
def test_walks_by_bends(axes: int, directions: Sequence[Direction]) -> None:
    """By hand. A walk of up to five steps that never turns straight back meets itself only by going round a unit
    square (a walk comes back after an even number of steps: two would be a reversal, four are a square).

    Squares: 2 * axes first steps, 2 * axes - 2 second ones, the other two are forced: s of them, with three bends.
    Four steps: s walks with three bends fall away. Five steps: the square in the first four steps, then straight on
    (s walks, three bends) or a bend (s walks for each direction across, four bends); likewise in the last four; both
    at once when the fifth step is as the first: s walks with four bends, counted twice.
    """
    squares = 2 * axes * (2 * axes - 2)
    across = 2 * axes - 2
    lost = {4: {3: squares}, 5: {3: 2 * squares, 4: 2 * squares * across - squares}}
    for steps in range(1, 6):
        by_hand = Counter(without_reversals(axes, steps))
        by_hand.subtract(lost.get(steps, {}))
        shown = Counter(bends(walk) for walk in self_avoiding_walks(ORIGIN, steps, directions, anywhere))
        assert shown == by_hand


def test_the_hand_count_in_figures() -> None:
    """The same, written out: so that a slip in the formulas above does not go with one in the enumeration."""
    shown = Counter(bends(walk) for walk in self_avoiding_walks(ORIGIN, 5, ALL_DIRECTIONS, anywhere))
    assert shown == {0: 6, 1: 96, 2: 576, 3: 1488, 4: 1368}
    shown = Counter(bends(walk) for walk in self_avoiding_walks(ORIGIN, 5, HORIZONTAL, anywhere))
    assert shown == {0: 4, 1: 32, 2: 96, 3: 112, 4: 40}


def test_walks_that_bend_at_every_step() -> None:
    """By hand: with no step W, steps E and steps N or S take turns and never meet. The steps E are forced, each of the
    others is free; they are half of the steps, rounded down if the first step is E, else up."""
    for steps in range(1, 9):
        walks = self_avoiding_walks(ORIGIN, steps, ("E", "N", "S"), anywhere)
        all_bent = sum(1 for walk in walks if bends(walk) == steps - 1)
        assert all_bent == 2 ** (steps // 2) + 2 ** ((steps + 1) // 2)
