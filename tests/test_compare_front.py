"""The Pareto front, against its definition, a published example and another way to find it; plots read back."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any
from xml.etree.ElementTree import Element, fromstring

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splitwright.drawing.scatter import Spot, scatter
from splitwright.drawing.svg import document, markup
from splitwright.words import english
from synth.search.front import dominates, pareto_front, staircase

small = st.integers(0, 6)
points = st.lists(st.tuples(small, small, small), max_size=14)
flat = st.lists(st.tuples(small, small), max_size=14)


def on_front_by_layers(found: list[tuple[int, ...]]) -> list[bool]:
    """Independent of the product: a point is off the front if, and only if, another place in the orthant below it is
    taken. Counted in a table of all places, by running sums over each axis: no two points are ever compared."""
    if not found:
        return []
    axes = len(found[0])
    table: dict[tuple[int, ...], int] = {}
    for point in found:
        table[point] = 1
    cells = [()]
    for _ in range(axes):
        cells = [(*cell, n) for cell in cells for n in range(8)]
    below = {cell: table.get(cell, 0) for cell in cells}
    for axis in range(axes):
        for cell in cells:  # ascending along every axis
            before = tuple(n - (i == axis) for i, n in enumerate(cell))
            below[cell] += below.get(before, 0)
    return [below[point] == 1 for point in found]


@given(points)
def test_the_front_is_the_one_that_counting_finds(found: list[tuple[int, ...]]) -> None:
    assert pareto_front(found) == on_front_by_layers(found)


@given(points)
def test_what_is_off_the_front_is_beaten_by_something_on_it(found: list[tuple[int, ...]]) -> None:
    front = pareto_front(found)
    best = [point for point, is_on in zip(found, front, strict=True) if is_on]
    assert bool(best) == bool(found)
    assert not any(dominates(a, b) for a in best for b in best)
    for point, is_on in zip(found, front, strict=True):
        assert is_on or any(dominates(one, point) for one in best)


@given(points, st.randoms(use_true_random=False))
def test_order_and_scale_change_nothing(found: list[tuple[int, ...]], random: Any) -> None:
    order = list(range(len(found)))
    random.shuffle(order)
    moved = pareto_front([(100 * found[i][0], found[i][1] + 7, 3.5 * found[i][2]) for i in order])
    front = pareto_front(found)
    assert moved == [front[i] for i in order]


def test_a_published_example() -> None:
    """Eight hotels by price and distance, both the less the better: the example in the README of paretoset 1.2.3 on
    PyPI, after S. Börzsönyi, D. Kossmann, K. Stocker, "The Skyline Operator" (2001). It gives the points, and the
    answer in a picture that was not looked at; here it is worked out by hand from the definition: 50/13 beats 53/21,
    62/19 and 87/13; 39/22 beats 60/22 and 44/25.
    """
    price = [50, 53, 62, 87, 83, 39, 60, 44]
    distance = [13, 21, 19, 13, 5, 22, 22, 25]
    front = pareto_front(list(zip(price, distance, strict=True)))
    assert front == [True, False, False, False, True, True, False, False]
    assert staircase(list(zip(price, distance, strict=True))) == [(39, 22), (50, 13), (83, 5)]


def test_equal_points_are_on_the_front_together() -> None:
    assert pareto_front([(1, 2), (1, 2), (2, 2)]) == [True, True, False]
    assert pareto_front([]) == []


@given(flat)
def test_a_staircase_goes_down(found: list[tuple[int, int]]) -> None:
    stairs = staircase(found)
    assert all(a[0] < b[0] and a[1] > b[1] for a, b in pairwise(stairs))
    assert set(stairs) == {point for point, is_on in zip(found, on_front_by_layers(found), strict=True) if is_on}


# -- plots read back ---------------------------------------------------------------------------------------------------

values = st.integers(1, 5000)
spots_drawn = st.lists(
    st.tuples(values, values, st.sampled_from(["front", "beaten", "apart"])), min_size=1, max_size=8
).map(lambda drawn: [Spot(i, *one) for i, one in enumerate(drawn, 1)])


def picture(spots: list[Spot], stairs: list[tuple[int, int]]) -> Element:
    return fromstring(document(scatter(spots, stairs, ("Volume", "Parts"), english())))


def of_class(root: Element, name: str) -> list[Element]:
    return [element for element in root.iter() if name in element.get("class", "").split()]


def scale(root: Element, group: str, axis: str) -> tuple[float, float]:
    """Units a value and where 0 would be, from the first and the last mark that is written on an axis."""
    marks = [
        (int((text.text or "").replace(",", "")), float(text.get(axis, "nan"))) for text in of_class(root, group)[0]
    ]
    (low, start), (high, end) = marks[0], marks[-1]
    assert len(marks) >= 2
    assert [mark for mark, _ in marks] == sorted({mark for mark, _ in marks})
    unit = (end - start) / (high - low)
    return unit, start - low * unit


@given(spots_drawn)
def test_markers_stand_where_the_axes_say(spots: list[Spot]) -> None:
    root = picture(spots, [])
    x_unit, x_zero = scale(root, "marks-x", "x")
    y_unit, y_zero = scale(root, "marks-y", "y")
    assert x_unit > 0 > y_unit, "more is to the right and upwards"
    _, _, width, height = map(float, root.get("viewBox", "").split())
    found = {}
    for marker in of_class(root, "spot"):
        x, y = map(float, re.findall(r"-?[\d.]+", marker.get("transform", "")))
        assert 0 < x < width
        assert 0 < y < height
        standing = marker.get("class", "").split("is-")[1]
        # The text of a mark stands 4.5 units below its line.
        there = (x - x_zero) / x_unit, (y + 4.5 - y_zero) / y_unit
        found[int(marker.get("data-number", ""))] = (*there, standing)
    assert sorted(found) == [spot.number for spot in spots]
    for spot in spots:
        x, y, standing = found[spot.number]
        assert x == pytest.approx(spot.x, abs=abs(0.1 / x_unit))
        assert y == pytest.approx(spot.y, abs=abs(0.1 / y_unit))
        assert standing == spot.standing


@given(spots_drawn)
def test_every_number_is_written_once(spots: list[Spot]) -> None:
    written = [number for text in of_class(picture(spots, []), "number") for number in (text.text or "").split(", ")]
    assert sorted(map(int, written)) == [spot.number for spot in spots]


@given(spots_drawn)
def test_the_line_goes_through_the_front(spots: list[Spot]) -> None:
    stairs = staircase([(spot.x, spot.y) for spot in spots])
    root = picture(spots, stairs)
    [line] = of_class(root, "stairs")
    path = line.get("d", "")
    corners = re.findall(r"H([\d.]+)V([\d.]+)", path)
    places = {
        (spot.x, spot.y): re.findall(r"[\d.]+", marker.get("transform", ""))
        for spot in spots
        for marker in of_class(root, "spot")
        if marker.get("data-number") == str(spot.number)
    }
    assert [list(corner) for corner in corners] == [places[stair] for stair in stairs]
    assert [float(x) for x, _ in corners] == sorted(float(x) for x, _ in corners)


def test_standings_differ_by_shape_and_by_class() -> None:
    spots = [Spot(1, 10, 9, "front"), Spot(2, 20, 19, "beaten"), Spot(3, 5, 5, "apart")]
    shapes = {marker.get("class"): marker.get("d") for marker in of_class(picture(spots, []), "spot")}
    assert len(set(shapes.values())) == len(shapes) == 3


def test_a_plot_tells_what_it_is() -> None:
    root = picture([Spot(1, 10, 9, "front")], [(10, 9)])
    assert root.get("role") == "img"
    texts = [element.text for element in root if element.tag.endswith(("title", "desc"))]
    assert texts[0] == "Parts against Volume"
    assert "the layouts, numbered by rank: 1" in (texts[1] or "")
    hostile = scatter([Spot(1, 1, 1, "front")], [], ("<b>x</b>", "</svg><script>"), english())
    assert "<script" not in markup(hostile)
