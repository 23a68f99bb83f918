"""Questions near a layout: most of it stays, a window of it is free, and something less is asked for.

Large neighbourhood search (Shaw, "Using constraint programming and local search methods to solve vehicle routing
problems", CP 1998), with windows that follow the structure: all but the row of nodes; two or three columns that stand
side by side; one or two layers. Such a question is small, and what it finds is as good as any; that it finds none
proves nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Final

from sim.world.geometry import Cell
from sim.world.layout import Layout
from synth.ask.spec import Spec
from synth.confirm.built import box_of
from synth.confirm.proposal import Proposal
from synth.model.grid import Grid
from synth.model.images import moved
from synth.model.plots import Plot, Size, is_open, question_for
from synth.model.question import Question
from synth.schemes.scheme import Windows
from synth.search.exact.caps import COUNTED, Caps
from synth.search.exact.job import Job, Near
from synth.search.exact.walks import Walk
from synth.search.known.stretching import row_of

CONFLICTS: Final = 20_000
"""Budget of a question in the first pass; each pass has ``GROWTH`` times as many."""
GROWTH: Final = 5
PASSES: Final = 3
COLUMNS: Final = (2, 3)
LAYERS: Final = (1, 2)


def jobs_near(best: Proposal, spec: Spec, within: Windows, job: Callable[..., Job]) -> Iterator[Job]:
    """Questions near the layout, the quickest first: fewer parts in a window, a smaller box around the same row, fewer
    parts around the same row.

    ``job``: makes a job of the search. Only for layouts of one stream.
    """
    if len(spec.streams) != 1:
        return
    size = box_of(best.layout)
    x, y = (min(part.at[axis] for part in best.layout.parts) for axis in (0, 1))
    plot = Plot((0, 0, 0) if is_open(spec) else (x, y, 0), size)
    layout = moved(best.layout, (-x, -y, 0), size)
    row = tuple(row_of(layout))
    less = _less(best, spec)
    for number in range(PASSES):
        conflicts = CONFLICTS * GROWTH**number
        question = question_for(spec, plot, within)
        for freed in _windows(question):
            yield job(question=question, cubes=((),), caps=less, conflicts=conflicts, near=Near(layout, freed))
        for smaller, cube in _smaller_boxes(plot, row, layout, is_open(spec)):
            yield job(question=question_for(spec, smaller, within), cubes=(cube,), caps=Caps(), conflicts=conflicts)
        yield job(question=question, cubes=(row,), caps=less, conflicts=conflicts)


def jobs_like(
    layouts: Iterable[Layout], spec: Spec, within: Windows, job: Callable[..., Job], conflicts: int
) -> Iterator[Job]:
    """Questions in the manner of layouts that are not accepted as they are: the same row, everything else free, with a
    column and a layer to spare where the site has them. (Other rules may want other delays; blocked cells, other ways.)
    """
    for layout in layouts:
        plot, moved_there = _with_room(layout, spec)
        question = question_for(spec, plot, within)
        if any(cell in question.grid.blocked for cell in row_of(moved_there)):
            continue
        near = Near(moved_there, frozenset(question.grid))
        yield job(question=question, cubes=(tuple(row_of(moved_there)),), caps=Caps(), conflicts=conflicts, near=near)


def _with_room(layout: Layout, spec: Spec) -> tuple[Plot, Layout]:
    """A box with one cell of room on each side and above, as far as the site goes; the layout in its coordinates."""
    box, low = box_of(layout), [min(part.at[axis] for part in layout.parts) for axis in (0, 1)]
    origin, size, by = [0, 0, 0], list(box), [0, 0, 0]
    for axis in (0, 1):
        if is_open(spec):
            spare = _sides(spec, box)[axis] - box[axis]
            before, after = min(1, spare), min(1, max(0, spare - 1))
        else:
            before, after = min(1, low[axis]), min(1, spec.size[axis] - low[axis] - box[axis])
            origin[axis] = low[axis] - before
        size[axis] += before + after
        by[axis] = before - low[axis]
    size[2] = min(spec.size[2], size[2] + 1)
    plot = Plot((origin[0], origin[1], 0), (size[0], size[1], size[2]))
    return plot, moved(layout, (by[0], by[1], 0), plot.size)


def _sides(spec: Spec, box: Size) -> tuple[int, int]:
    """Width and depth of an open site, turned so that the box fits."""
    width, depth, _ = spec.size
    return (width, depth) if box[0] <= width and box[1] <= depth else (depth, width)


def _less(best: Proposal, spec: Spec) -> Caps:
    """One less of what the ranking counts first: parts, unless it has the price before them."""
    prices = tuple(sorted((kind, spec.limit(kind).price) for kind in best.measures.by_kind))
    measure = next((one for one in spec.order if one in COUNTED), "parts")
    return Caps(prices=prices).tightened(measure, getattr(best.measures, measure) - 1)


def _smaller_boxes(plot: Plot, row: Walk, layout: Layout, anywhere: bool) -> Iterator[tuple[Plot, Walk]]:
    """The boxes with one column or layer less that still hold the item network, and the row in their coordinates.

    ``anywhere``: boxes have no place in the site (``plots.plots``)."""
    network = [part.at for part in layout.parts if part.kind in ("node", "bin", "furnace")]
    for axis in (0, 1, 2):
        last = plot.size[axis] - 1
        for edge, by in ((last, 0), (0, 1)):
            if any(cell[axis] == edge for cell in network) or (axis == 2 and edge == 0):
                continue
            size, origin = list(plot.size), list(plot.origin)
            size[axis] -= 1
            origin[axis] += 0 if anywhere else by
            cube = tuple(_shifted(cell, axis, -by) for cell in row)
            yield Plot((origin[0], origin[1], origin[2]), (size[0], size[1], size[2])), cube


def _windows(question: Question) -> Iterator[frozenset[Cell]]:
    grid = question.grid
    for axis, widths in ((0, COLUMNS), (1, COLUMNS), (2, LAYERS)):
        for width in widths:
            for start in range(grid.size[axis] - width + 1):
                if width < grid.size[axis]:
                    yield _slab(grid, axis, range(start, start + width))


def _slab(grid: Grid, axis: int, within: range) -> frozenset[Cell]:
    return frozenset(cell for cell in grid if cell[axis] in within)


def _shifted(cell: Cell, axis: int, by: int) -> Cell:
    moved_to = list(cell)
    moved_to[axis] += by
    return moved_to[0], moved_to[1], moved_to[2]
