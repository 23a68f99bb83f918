"""The acyclic orientations of a graph, one topological order for each, by depth-first search without dead ends.

Edge by edge: an edge between machines of which one already comes before the other is turned that way; any other edge
can be turned either way without closing a cycle. So every leaf is an orientation, and each is met once.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from sim.world.kernel.compiling import compiled
from sim.world.kernel.places import Numbers


class Walk(NamedTuple):
    """Where the search stands. ``after[depth]``: for each machine and each other one, whether it comes later once
    ``depth`` edges are turned; ``turn``: what is to be done at each edge: 0 first way, 1 second way, 2 up again."""

    after: Any
    turn: Any
    depth: Any


def new_walk(machines: int, edges: int) -> Walk:
    """At the root."""
    after = np.zeros((edges + 1, machines, machines), np.bool_)
    return Walk(after, np.zeros(edges + 1, np.int32), np.zeros(1, np.int32))


@compiled
def fill_orders(edges: np.ndarray, walk: Walk, block: np.ndarray) -> int:
    """The next orders, as many as the block has rows for; fewer: there are no more.

    Time: for each order quadratic in the machines, times the edges at most.
    """
    count = 0
    while walk.depth[0] >= 0:
        depth = walk.depth[0]
        if depth == len(edges):
            if count == len(block):
                return count
            _topological(walk.after[depth], block[count])
            count += 1
            walk.depth[0] -= 1
            continue
        one, other = edges[depth, 0], edges[depth, 1]
        turn = walk.turn[depth]
        if turn == 2:
            walk.turn[depth] = 0
            walk.depth[0] -= 1
            continue
        before = walk.after[depth]
        if before[one, other] or before[other, one]:
            walk.turn[depth] = 2
            _copy(before, walk.after[depth + 1])
        else:
            walk.turn[depth] = turn + 1
            if turn == 0:
                _turn(before, walk.after[depth + 1], one, other)
            else:
                _turn(before, walk.after[depth + 1], other, one)
        walk.depth[0] += 1
    return count


@compiled
def _copy(before: np.ndarray, after: np.ndarray) -> None:
    for i in range(len(before)):
        for j in range(len(before)):
            after[i, j] = before[i, j]


@compiled
def _turn(before: np.ndarray, after: np.ndarray, first: int, second: int) -> None:
    """``first`` comes before ``second``, and with it all that comes before it, before all that comes after that."""
    _copy(before, after)
    for i in range(len(before)):
        if i == first or before[i, first]:
            after[i, second] = True
            for j in range(len(before)):
                if before[second, j]:
                    after[i, j] = True


@compiled
def _topological(after: np.ndarray, order: Numbers) -> None:
    """Machines by how many come after them, most first: one that comes before another has more behind it."""
    machines = len(after)
    for i in range(machines):
        behind = 0
        for j in range(machines):
            behind += after[i, j]
        at = i
        while at > 0 and _behind(after, order[at - 1]) < behind:
            order[at] = order[at - 1]
            at -= 1
        order[at] = i


@compiled
def _behind(after: np.ndarray, machine: int) -> int:
    total = 0
    for j in range(len(after)):
        total += after[machine, j]
    return total
