"""The Pareto front of points whose every measure is better the smaller it is.

H. T. Kung, F. Luccio, F. P. Preparata, "On finding the maxima of a set of vectors", Journal of the ACM 22 (1975):
a vector is on the front unless another one is nowhere worse and somewhere better. Theirs is a faster way to find it;
for the handful of layouts that a page holds, comparing all pairs does.
"""

from __future__ import annotations

from collections.abc import Sequence

Point = Sequence[float]


def dominates(one: Point, other: Point) -> bool:
    """``one`` is nowhere worse (larger), and somewhere better."""
    return all(a <= b for a, b in zip(one, other, strict=True)) and tuple(one) != tuple(other)


def pareto_front(points: Sequence[Point]) -> list[bool]:
    """For each point, whether it is on the front. Equal points are on it together. O(n^2) comparisons."""
    return [not any(dominates(other, point) for other in points) for point in points]


def staircase(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The front of points in the plane, each place once, from left to right: so from top to bottom."""
    front = pareto_front(points)
    return sorted({point for point, is_on in zip(points, front, strict=True) if is_on})
