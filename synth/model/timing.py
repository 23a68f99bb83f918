"""Delays and feedback: every chain of parts is bounded in ticks, and every lock answers within its window.

Two measures run along the edges of influence, both in units of the greatest common divisor of the delays.
``rank``: the longest chain of parts that ends here; since it grows along every edge through a part and is bounded, no
part can act on itself. ``paths``: the set of delays from the gauges of one label; at a node that is ever locked each
must lie in the window.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from sim.world.geometry import HORIZONTAL
from synth.model.clauses import Lit
from synth.model.edges import Edge
from synth.model.influence import own_delays, tracked_places
from synth.model.vocabulary import Vocabulary, gauge
from synth.schemes.scheme import DelayWindow


def unit_of(v: Vocabulary) -> int:
    """Ticks of one unit of delay."""
    q = v.question
    return math.gcd(q.inverter_delay, q.gauge_delay, q.relay_step)


def chains_are_bounded(v: Vocabulary, edges: Iterable[Edge]) -> None:
    """No chain of parts takes longer than ``stages`` ticks; so nothing feeds back."""
    unit, most = unit_of(v), v.question.stages // unit_of(v)
    rank = {
        place: [v.clauses.new() for _ in range(most)] for place in tracked_places(v)
    }  # rank[place][k]: at least k + 1 units
    for levels in rank.values():
        for higher, lower in zip(levels[1:], levels, strict=False):
            v.clauses.add(-higher, lower)
    for given, cell, delay in own_delays(v):
        _at_least_here(v, given, rank["part", cell], delay // unit)
    for edge in edges:
        if edge.source in rank and edge.target in rank:
            _passed_on(v, edge, rank[edge.source], rank[edge.target], edge.delay // unit)


def _at_least_here(v: Vocabulary, given: Lit, target: list[Lit], units: int) -> None:
    if units > len(target):
        v.clauses.add(-given)
    elif units:
        v.clauses.add(-given, target[units - 1])


def _passed_on(v: Vocabulary, edge: Edge, source: list[Lit], target: list[Lit], units: int) -> None:
    """rank(target) >= rank(source) + units; what would not fit is forbidden."""
    for k, at_least in enumerate(source):
        if k + units < len(target):
            v.clauses.implies((*edge.given, at_least), target[k + units])
        else:
            v.clauses.implies((*edge.given, at_least))


def locks_answer_in_time(
    v: Vocabulary, edges: Iterable[Edge], stream: int, label: str, window: DelayWindow
) -> None:
    """Every path from a gauge of that label to a node that is ever locked takes a time inside the window."""
    unit, most = unit_of(v), v.question.stages // unit_of(v)
    paths = {
        place: [v.clauses.new() for _ in range(most)] for place in tracked_places(v)
    }  # paths[place][k]: some path takes k + 1 units
    for cell in v.cells:
        for output in HORIZONTAL:
            here = v.is_(cell, gauge(output, stream, label))
            _at_least_here(v, here, paths["part", cell], v.question.gauge_delay // unit)
    late = [k for k in range(most) if not window.least <= (k + 1) * unit <= window.most]
    for edge in edges:
        if edge.source not in paths:
            continue
        if edge.target[0] == "node":
            for nodes in v.question.scheme.lockable():
                lockable = v.is_among(edge.target[1], stream, nodes)
                for k in late:
                    v.clauses.implies((*edge.given, paths[edge.source][k], lockable))
        elif edge.target in paths:
            _passed_on(v, edge, paths[edge.source], paths[edge.target], edge.delay // unit)
