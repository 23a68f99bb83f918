"""The largest flow through a graph whose places have capacities: shortest augmenting paths.

Source: Edmonds and Karp, Theoretical improvements in algorithmic efficiency for network flow problems (1972); a place
with a capacity is a pair of vertices with an edge between them (textbook, from memory).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable, Iterable, Mapping
from typing import TypeVar

Place = TypeVar("Place", bound=Hashable)


def largest_flow(
    capacity: Mapping[Place, int], onward: Mapping[Place, Iterable[Place]], ends: Iterable[Place]
) -> int:
    """The largest flow from all places of ``onward`` that nothing leads to, into ``ends`` (which take all that comes).

    ``capacity``: most that passes a place; a place without one passes anything. Time: places times edges squared.
    """
    left = _residual(capacity, onward, set(ends))
    total = 0
    while path := _shortest(left):
        most = min(left[a][b] for a, b in path)
        for a, b in path:
            left[a][b] -= most
            left[b][a] = left[b].get(a, 0) + most
        total += most
    return total


_Vertex = tuple[Hashable, str]
_SOURCE: _Vertex = (None, "source")
_SINK: _Vertex = (None, "sink")


def _residual(
    capacity: Mapping[Place, int], onward: Mapping[Place, Iterable[Place]], ends: set[Place]
) -> dict[_Vertex, dict[_Vertex, int]]:
    unbounded = 1 + sum(capacity.values())
    targets = {b for after in onward.values() for b in after}
    left: dict[_Vertex, dict[_Vertex, int]] = {_SOURCE: {}, _SINK: {}}
    for place in {*onward, *targets, *ends}:
        left[place, "in"] = {(place, "out"): capacity.get(place, unbounded)}
        left[place, "out"] = {_SINK: unbounded} if place in ends else {}
        if place in onward and place not in targets:
            left[_SOURCE][place, "in"] = unbounded
    for place, after in onward.items():
        for other in after:
            left[place, "out"][other, "in"] = unbounded
    return left


def _shortest(left: Mapping[_Vertex, Mapping[_Vertex, int]]) -> list[tuple[_Vertex, _Vertex]]:
    """The edges of a shortest path with room left, by breadth-first search; none: an empty list."""
    came: dict[_Vertex, _Vertex] = {_SOURCE: _SOURCE}
    queue = deque([_SOURCE])
    while queue and _SINK not in came:
        here = queue.popleft()
        for there, room in left[here].items():
            if room and there not in came:
                came[there] = here
                queue.append(there)
    if _SINK not in came:
        return []
    path, at = list[tuple[_Vertex, _Vertex]](), _SINK
    while at != _SOURCE:
        path.append((came[at], at))
        at = came[at]
    return path
