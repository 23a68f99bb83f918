"""The Pareto front of points whose every measure is better the smaller it is.

H. T. Kung, F. Luccio, F. P. Preparata, "On finding the maxima of a set of vectors", Journal of the ACM 22 (1975):
a vector is on the front unless another one is nowhere worse and somewhere better. Theirs is a faster way to find it;
for the handful of layouts that a page holds, comparing all pairs does.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.world.rulebook import known_handovers
from synth.confirm.measures import rank_key
from synth.confirm.proposal import Proposal

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


def best_ones(proposals: Sequence[Proposal], order: tuple[str, ...]) -> list[Proposal]:
    """The layouts of the front, one of those that are equal in all, ranked by ``order``.

    Measures: those of ``order``, volume, parts, latency, what it is even for, items that must be filled in first, items
    that stay inside, handovers that it does not work under.
    """
    once: dict[tuple[float, ...], Proposal] = {}
    for proposal in proposals:
        once.setdefault(profile(proposal, order), proposal)
    front = pareto_front(list(once))
    found = [proposal for proposal, is_on in zip(once.values(), front, strict=True) if is_on]
    return sorted(found, key=lambda one: profile(one, order))


def profile(proposal: Proposal, order: tuple[str, ...]) -> tuple[float, ...]:
    """What a layout is measured by on the front, each the smaller the better; the first ones as ``order`` has them."""
    m = proposal.measures
    full_loads_only = float(proposal.even_for == "burst")
    missing = len(set(known_handovers()) - set(m.handovers))
    return (
        *rank_key(m, order),
        *(m.volume, m.parts, m.latency, full_loads_only, m.held_at_start, m.held, missing),
    )
