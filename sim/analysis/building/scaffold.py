"""Temporary supports: the shortest row of them from something that stands to the cell where one is wanted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from heapq import heappop, heappush
from typing import Final

from sim.analysis.building.bases import FACES, Body, bases
from sim.analysis.building.site import Site
from sim.world.geometry import Cell, step
from sim.world.parts import Node, Support

SHORTEST_WITHIN: Final = 4000
"""Cells that are looked at for the shortest row: more than twelve steps every way. A bound on work."""
Rest = tuple[Cell, Cell]
"""A temporary support's cell, and the cell of what it is put against."""


def scaffolds(site: Site, body: Body) -> Iterator[list[Rest]]:
    """Rows of temporary supports, in the order of placing, that end where ``body`` can be put against the last one.

    The shortest way of all first; then, for a body that may be put against any side, the shortest to each side. A row
    is only given if a hand gets at each of its supports, when placed and when taken away again with ``body`` in place.
    """
    ends = bases(body)
    choices = [ends] if isinstance(body, Node) else [ends, *([end] for end in ends)]
    for choice in choices:
        row = _row(site, body.at, choice)
        if row and _is_reachable(site, body, row):
            yield row


def _row(site: Site, at: Cell, ends: Iterable[Cell]) -> list[Rest]:
    """Dijkstra's search outward from ``ends``, over free cells, to the first one that has a base beside it.

    As few supports outside of the site as can be (it may end at a wall), then as few as can be; ``at`` stays
    free. O(v log v) in the number v of cells looked at, those no farther away than the nearest base. Where that is very
    far, downwards goes first after ``SHORTEST_WITHIN`` cells, so that the row is a way but need not be the shortest.
    (Own code: the free cells change with each step, so no graph is built for a library.)
    """
    queue: list[tuple[int, int, int, int, Cell]] = []
    towards: dict[Cell, Cell | None] = {}

    def reach(cell: Cell, outside: int, length: int, came_from: Cell | None) -> None:
        if cell not in towards and cell != at and cell not in site.placed and site.is_near(cell):
            towards[cell] = came_from
            hurry = 0 if len(towards) <= SHORTEST_WITHIN else cell[2] - site.size[2] - 1
            heappush(queue, (hurry, outside + (not site.is_inside(cell)), length + 1, len(towards), cell))

    for end in ends:
        reach(end, 0, 0, None)
    while queue:
        _, outside, length, _, cell = heappop(queue)
        for face in FACES:
            if site.is_base(base := step(cell, face)):
                return _rests(cell, base, towards)
        for face in FACES:
            reach(step(cell, face), outside, length, cell)
    return []


def _rests(first: Cell, base: Cell, towards: dict[Cell, Cell | None]) -> list[Rest]:
    row = [(first, base)]
    while (following := towards[row[-1][0]]) is not None:
        row.append((following, row[-1][0]))
    return row


def _is_reachable(site: Site, body: Body, row: list[Rest]) -> bool:
    """Each support has an open side when it is placed and when it is taken away, and so has the body.

    Tried on ``site``, which is left as it was.
    """
    sides = []
    for part in (*(Support(cell) for cell, _ in row), body):
        sides.append(site.open_sides(part.at))
        site.placed[part.at] = part
    for cell, _ in reversed(row):
        sides.append(site.open_sides(cell))
        del site.placed[cell]
    del site.placed[body.at]
    return all(sides)
