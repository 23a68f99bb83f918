"""Longer and shorter rows from a build some of whose columns are alike: copies of these put in, or some left out.

A *column* is what stands in one plane x = c (or y = c) through the whole box. Columns that stand side by side and are
alike, every T in them in a leg of the row that runs straight through, make a *run*: a column of it more or less changes
each leg by one T. So does a group of some columns that repeats. What comes of it is only ever a candidate: lock lines
lose a level a cell, timing windows narrow as rows grow. The simulator decides.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Final

from sim.world.geometry import Cell, step
from sim.world.layout import Layout, Stream
from sim.world.parts import Bin, Node, Part
from synth.model.decode import reading_order
from synth.search.known.build import KnownBuild, at_origin

GROUP_MOST: Final = 4
"""Columns of a group that repeats."""
WAYS_MOST: Final = 6
"""Ways to share out a change among the runs of one build that are tried, the most even first."""
RUNS_MOST: Final = 3
"""Runs of one build that are made longer or shorter together."""

Column = Mapping[Cell, Part]
"""What stands in a plane, moved to coordinate 0."""


@dataclass(frozen=True, slots=True)
class Run:
    """Columns ``begin`` to ``end`` - 1 are groups of ``period`` columns, each like the one before it; ``gain``: T nodes
    of one group."""

    begin: int
    end: int
    period: int
    gain: int

    @property
    def groups(self) -> int:
        """Groups there are."""
        return (self.end - self.begin) // self.period


def stretched(build: KnownBuild, outputs: int) -> Iterator[Layout]:
    """Layouts with so many outputs in the manner of the build, one group of each run left at least; the most promising
    first. At most WAYS_MOST for each axis and period.

    Time: linear in the parts for each layout.
    """
    seen = set()
    for axis in (0, 1):
        for runs in _families(build.layout, axis):
            for groups in _shared_out(runs, outputs - build.outputs):
                layout = _with_groups(build.layout, axis, runs, groups, outputs)
                if layout is not None and layout.parts not in seen:
                    seen.add(layout.parts)
                    yield layout


def runs_of(layout: Layout, axis: int, period: int = 1) -> list[Run]:
    """The longest runs with that period across an axis, in order; no column is in two of them."""
    columns = [_column(layout, axis, at) for at in range(layout.size[axis])]
    passable = [_is_run_through(column, axis, layout) for column in columns]
    found, begin = [], 0
    while begin + 2 * period <= len(columns):
        end = begin
        while end < len(columns) and passable[end] and (end < begin + period or columns[end] == columns[end - period]):
            end += 1
        groups = (end - begin) // period
        gain = sum(_is_row_node(part, layout) for part in _parts(layout, axis, range(begin, begin + period)))
        if groups >= 2 and gain:
            found.append(Run(begin, begin + groups * period, period, gain))
            begin = found[-1].end
        else:
            begin += 1
    return found


def row_of(layout: Layout) -> list[Cell]:
    """The T nodes of the one stream in their order: below the source, then wherever each one pushes.

    Raises ValueError where no row begins below the source, or it runs in a circle.
    """
    (stream,) = layout.streams
    row, at = [], step(stream.source, "D")
    while isinstance(part := layout.by_cell.get(at), Node) and part.outlet != "D" and at[2] == stream.source[2] - 1:
        if at in row:
            raise ValueError("the row runs in a circle")
        row.append(at)
        at = step(at, part.outlet)
    if not row:
        raise ValueError("no row begins below the source")
    return row


def outputs_of(layout: Layout) -> tuple[Cell, ...]:
    """Where the B nodes below the row lead, in the order of the row."""
    drops = (layout.by_cell.get(step(at, "D")) for at in row_of(layout))
    return tuple(step(drop.at, drop.outlet) for drop in drops if isinstance(drop, Node))


def _families(layout: Layout, axis: int) -> Iterator[list[Run]]:
    """Runs of single columns, the RUNS_MOST longest; then each run of a longer period by itself."""
    single = runs_of(layout, axis)
    if single:
        longest = sorted(single, key=lambda run: (-run.groups, run.begin))[:RUNS_MOST]
        yield sorted(longest, key=lambda run: run.begin)
    for period in range(2, GROUP_MOST + 1):
        for run in runs_of(layout, axis, period):
            if not any(one.begin <= run.begin and run.end <= one.end for one in single):
                yield [run]


def _shared_out(runs: Sequence[Run], more: int) -> list[tuple[int, ...]]:
    """Groups that each run then has, so that ``more`` T nodes come of it; runs of even length first."""
    found: list[tuple[int, ...]] = []
    free = [range(1, run.groups + max(0, more) // run.gain + 1) for run in runs[:-1]]
    for groups in product(*free):
        gained = sum((g - run.groups) * run.gain for g, run in zip(groups, runs, strict=False))
        rest, last = more - gained, runs[-1]
        if rest % last.gain == 0 and (g := last.groups + rest // last.gain) >= 1:
            found.append((*groups, g))
    return sorted(found, key=lambda groups: (max(groups) - min(groups), groups))[:WAYS_MOST]


def _with_groups(
    layout: Layout, axis: int, runs: Sequence[Run], groups: Sequence[int], outputs: int
) -> Layout | None:
    """The layout with so many groups of each run; None if it has not so many outputs in one row."""
    order, begin = [], 0
    for run, number in zip(runs, groups, strict=True):
        order += [*range(begin, run.begin), *(list(range(run.begin, run.begin + run.period)) * number)]
        begin = run.end
    order += range(begin, layout.size[axis])
    parts = [
        replace(part, at=_at(part.at, axis, to)) for to, at in enumerate(order) for part in _parts(layout, axis, (at,))
    ]
    size = (len(order), layout.size[1], layout.size[2]) if axis == 0 else (layout.size[0], len(order), layout.size[2])
    (stream,) = layout.streams
    sources = [part.at for part in parts if isinstance(part, Bin) and _came_from(part.at, axis, order) == stream.source]
    if len(sources) != 1:
        return None
    made = replace(
        layout,
        size=size,
        parts=tuple(sorted(parts, key=lambda part: reading_order(part.at))),
        streams=(Stream(stream.name, stream.item, sources[0], ()),),
    )
    try:
        targets = outputs_of(made)
    except ValueError:
        return None
    if len(targets) != outputs or len(set(targets)) != outputs or not all(cell in made.by_cell for cell in targets):
        return None
    return at_origin(replace(made, streams=(replace(made.streams[0], outputs=targets),)))


def _came_from(cell: Cell, axis: int, order: Sequence[int]) -> Cell:
    return _at(cell, axis, order[cell[axis]])


def _column(layout: Layout, axis: int, at: int) -> Column:
    return {(moved := replace(part, at=_at(part.at, axis, 0))).at: moved for part in _parts(layout, axis, (at,))}


def _parts(layout: Layout, axis: int, columns: Sequence[int]) -> list[Part]:
    return [part for part in layout.parts if part.at[axis] in columns]


def _at(cell: Cell, axis: int, to: int) -> Cell:
    return (to, cell[1], cell[2]) if axis == 0 else (cell[0], to, cell[2])


def _is_run_through(column: Column, axis: int, layout: Layout) -> bool:
    """No bin stands in the column, and every T there pushes straight on through it."""
    along = "EW" if axis == 0 else "NS"
    level = layout.streams[0].source[2] - 1
    row = [part for part in column.values() if isinstance(part, Node) and part.at[2] == level]
    return all(part.outlet in along for part in row) and not any(isinstance(part, Bin) for part in column.values())


def _is_row_node(part: Part, layout: Layout) -> bool:
    return isinstance(part, Node) and part.at[2] == layout.streams[0].source[2] - 1
