"""The enumeration of boxes against the smallest rectangles that hold squares of sizes 1, 2, ..., n.

Sources, read from their pages: OEIS A038666 (least areas) and A081287 (their sides for n >= 6); R. E. Korf, "Optimal
rectangle packing: new results", ICAPS 2004; E. Huang and R. E. Korf, IJCAI 2009, pages 511-516. The sides for n <= 5
are from the table of the recmath.org packing contest, problem 6.

A search of the boxes in order of area that stops at the first one into which the squares go finds the published area
only if no shape is missing and none comes too late. Whether squares go into a box is asked of the project's clauses and
solver. The squares of A038666 lie along the sides of the rectangle, on whole cells (loose ones can be pushed there).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations_with_replacement, pairwise, product

import pytest

from sim.world.rulebook import load_rulebook
from synth.ask.spec import Spec, StreamSpec
from synth.model.clauses import Clauses, Lit
from synth.model.plots import Size, plots, sizes
from synth.solving.cp_sat import Answer, CpSat, Effort

AREAS = {2: 6, 3: 15, 4: 35, 5: 60, 6: 99, 7: 154, 8: 210}
"""A038666. Its first term, 1, is left out: a box of one cell has no room for a row."""
SIDES = {2: (3, 2), 3: (5, 3), 4: (7, 5), 5: (12, 5), 6: (11, 9), 7: (14, 11), 8: (15, 14)}
"""The published rectangles of those areas."""
HEIGHT = 4
SECONDS = 60.0


def site(width: int, depth: int, height: int = HEIGHT, *, blocked: Sequence[tuple[int, int, int]] = ()) -> Spec:
    """A spec for which a box of two cells and four layers has room enough."""
    return Spec(
        "packing", 1, (width, depth, height), (StreamSpec("feed", "clay"),), load_rulebook(), blocked=frozenset(blocked)
    )


def area(size: Size) -> int:
    return size[0] * size[1]


# -- packing ----------------------------------------------------------------------------------------------------------

Placement = dict[tuple[int, int, int], Lit]
"""(edge of the square, x, y of its corner) to the literal that puts it there."""


def packing(edges: Sequence[int], width: int, depth: int) -> tuple[Clauses, Placement]:
    """Each square in one place, no cell under two of them."""
    clauses, placed = Clauses(), {}
    cells: dict[tuple[int, int], list[Lit]] = {cell: [] for cell in product(range(width), range(depth))}
    for edge in edges:
        for x, y in product(range(width - edge + 1), range(depth - edge + 1)):
            placed[edge, x, y] = lit = clauses.new()
            for cell in square(edge, x, y):
                cells[cell].append(lit)
        clauses.exactly_one(lit for (size, _, _), lit in placed.items() if size == edge)
    for over in cells.values():
        clauses.bounded([(lit, 1) for lit in over], 0, 1)
    return clauses, placed


def square(edge: int, x: int, y: int) -> Iterator[tuple[int, int]]:
    return product(range(x, x + edge), range(y, y + edge))


def holds_squares(size: Size, n: int) -> bool:
    """Squares of sizes 1 to n go into the box's footprint; what the solver finds is looked at cell by cell.

    Boxes with fewer cells than the squares have are not asked about.
    """
    edges = range(n, 0, -1)
    if area(size) < sum(edge * edge for edge in edges):
        return False
    clauses, placed = packing(edges, size[0], size[1])
    answer = CpSat(clauses).solve(Effort(SECONDS))
    assert answer.outcome != "stopped"
    if answer.outcome == "found":
        assert_packed(answer, placed, size, n)
    return answer.outcome == "found"


def assert_packed(answer: Answer, placed: Placement, size: Size, n: int) -> None:
    chosen = [place for place, lit in placed.items() if answer.holds(lit)]
    assert sorted(edge for edge, _, _ in chosen) == list(range(1, n + 1))
    covered = Counter(cell for place in chosen for cell in square(*place))
    assert set(covered.values()) == {1}
    assert all(x < size[0] and y < size[1] for x, y in covered)


# -- the search in order of area --------------------------------------------------------------------------------------


@pytest.mark.parametrize("n", AREAS)
def test_the_first_box_that_holds_the_squares_has_the_published_area(n: int) -> None:
    boxes = sizes(site(30, 30), area)
    first = next(box for box in boxes if holds_squares(box, n))
    assert area(first) == AREAS[n]
    assert SIDES[n] in [(w, d) for w, d, _ in boxes if w * d == AREAS[n] and holds_squares((w, d, HEIGHT), n)]


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("n", [3, 4, 5])
def test_the_published_box_is_found_on_a_site_just_as_wide(n: int, turned: bool) -> None:
    """On a site that is no larger than the published rectangle, either way round, open or with a pin of its own."""
    width, depth = SIDES[n][::-1] if turned else SIDES[n]
    for blocked in ((), ((0, 0, HEIGHT - 1),)):
        boxes = sizes(site(width, depth, blocked=blocked), area)
        first = next(box for box in boxes if holds_squares(box, n))
        assert area(first) == AREAS[n]
        assert (first[:2] == (width, depth)) if blocked else (first[:2] == SIDES[n])


def test_one_cell_less_than_the_published_box_is_not_enough() -> None:
    """No box of the site whose sides fit into the published rectangle's, other than itself, holds the squares."""
    for n, (width, depth) in SIDES.items():
        for narrower in (site(width - 1, depth), site(width, depth - 1)):
            assert not any(holds_squares(box, n) for box in sizes(narrower, area))


# -- each shape once --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("width", "depth"), [(30, 30), (12, 7), (7, 12), (9, 1)])
def test_each_shape_of_an_open_site_comes_once(width: int, depth: int) -> None:
    shown = [tuple(sorted(size[:2])) for size in sizes(site(width, depth), area)]
    short, long = sorted((width, depth))
    pairs = combinations_with_replacement(range(1, long + 1), 2)
    assert sorted(shown) == sorted((a, b) for a, b in pairs if a <= short and a * b >= 2)
    assert [a * b for a, b in shown] == sorted(a * b for a, b in shown)


@pytest.mark.parametrize(("width", "depth"), [(12, 7), (7, 12)])
def test_both_ways_round_where_the_site_tells_directions_apart(width: int, depth: int) -> None:
    shown = [size[:2] for size in sizes(site(width, depth, blocked=[(0, 0, 0)]), area)]
    assert sorted(shown) == [(w, d) for w, d in product(range(1, width + 1), range(1, depth + 1)) if w * d >= 2]


def test_boxes_of_every_height_by_volume() -> None:
    """In order of volume; of one volume just those that divide it: side and depth either way, height as it is."""
    limit = 12
    boxes = sizes(site(limit, limit, limit), lambda size: size[0] * size[1] * size[2])
    volumes = [w * d * h for w, d, h in boxes]
    assert all(one <= other for one, other in pairwise(volumes))
    for volume, many in Counter(volumes).items():
        by_division = [
            (volume // (d * h), d, h)
            for h in range(HEIGHT, limit + 1)
            for d in range(1, limit + 1)
            if volume % (d * h) == 0 and d <= volume // (d * h) <= limit and volume // h >= 2
        ]
        assert many == len(by_division)
        assert set(by_division) == {box for box in boxes if box[0] * box[1] * box[2] == volume}
    assert max(volumes) == limit**3


@pytest.mark.parametrize("blocked", [(), ((0, 0, 0),)])
def test_a_limit_of_cells_leaves_out_just_the_larger_boxes(blocked: Sequence[tuple[int, int, int]]) -> None:
    spec = site(9, 6, 7, blocked=blocked)
    boxes = sizes(spec, area)
    for most in range(1, 9 * 6 * 7 + 2):
        assert sizes(spec, area, most_cells=most) == [box for box in boxes if box[0] * box[1] * box[2] <= most]


def test_every_place_of_a_box_in_a_site_with_a_blocked_cell() -> None:
    """Places of a box of w by d in a site of W by D: (W - w + 1)(D - d + 1) of them; those that look alike from inside
    (the blocked cell outside all of them) count once."""
    spec = site(6, 5, blocked=[(3, 2, 0)])
    for width, depth, height in sizes(spec, area):
        around = [(x, y) for x, y in product(range(7 - width), range(6 - depth))]
        hit = sum(x <= 3 < x + width and y <= 2 < y + depth for x, y in around)
        assert len(plots(spec, (width, depth, height))) == hit + (hit < len(around))
