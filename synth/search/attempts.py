"""Where to look for a first layout: the boxes and questions that answer fast, the most promising first.

Two sorts: whole boxes, for rows whose T nodes are never locked (narrower than splitting needs, and found sooner), in
the hands of CP-SAT; and given ways of the row (``known.ways``), in those of CaDiCaL. That nothing is found here is no
proof of anything.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import islice, zip_longest
from typing import Final

from sim.world.geometry import Direction
from sim.world.layout import Layout
from synth.ask.spec import Spec
from synth.model.plots import Size, is_open, plots, question_for, row_length, rows_of, sizes, volume
from synth.model.question import Question
from synth.schemes.registry import scheme_of
from synth.schemes.scheme import Windows
from synth.search.exact.caps import Caps
from synth.search.exact.job import Job
from synth.search.exact.walks import Walk
from synth.search.known.ways import lock_lines, ways
from synth.search.neighbourhoods import jobs_like

LONG_ROW: Final = 5
"""Outputs from which straight rows with repeating columns are tried before free ones."""
PLACES_TRIED: Final = 3
"""Places of one shape that are tried, on sites where places differ."""
ROOM_PER_COLUMN: Final = 12
"""Cells a column of the row that make a box roomy enough for a quick answer."""

MARGINS: Final = (1, 2, 3)
"""Columns left free at each end of a row with repeating columns."""

WAYS_TRIED: Final = 3
"""Ways of the row that are tried in a box in the first round; each round has twice as many."""
FIRST_CONFLICTS: Final = 20_000
"""Budget of an attempt in the first round; each round has ``GROWTH`` times as many."""
GROWTH: Final = 4
ROUNDS: Final = 6
CP_SAT_SLOWER: Final = 4
"""CP-SAT takes so many times as long for a conflict (some 600 a second on 9 x 3 x 4, N = 8, on a busy machine)."""
LIKE_MOST: Final = 4
"""Layouts in whose manner others are looked for."""

Attempt = tuple[Size, Question]


def first_rounds(
    spec: Spec, within: Windows, job: Callable[..., Job], suggestions: Iterable[Layout] = ()
) -> Iterator[Iterator[Job]]:
    """The attempts as jobs, in rounds of growing budgets: in the manner of ``suggestions``, then group by group.

    ``job``: makes a job of the search; ``suggestions``: layouts for the spec that are not accepted as they are.
    """
    groups, like = attempts_at_a_first(spec, within), list(islice(suggestions, LIKE_MOST))
    attempts: list[Attempt] = []
    for number in range(ROUNDS):
        attempts += groups.pop(0) if groups else []
        yield jobs_like(like, spec, within, job, FIRST_CONFLICTS * GROWTH**number)
        yield _round(spec, within, job, attempts, number)


def _round(
    spec: Spec, within: Windows, job: Callable[..., Job], attempts: Sequence[Attempt], number: int
) -> Iterator[Job]:
    """Whole boxes and given ways by turns."""
    budget = FIRST_CONFLICTS * GROWTH**number
    anyhow = (
        job(question=question, cubes=((),), caps=Caps(), conflicts=budget // CP_SAT_SLOWER, engine="CP-SAT")
        for _, question in attempts
    )
    along = (
        job(question=question, cubes=(way,), caps=Caps(), conflicts=budget, lines_told=told)
        for question, way in _ways(spec, within, WAYS_TRIED * 2**number)
        for told in ((True, False) if lock_lines(question, way) else (False,))
    )
    for pair in zip_longest(anyhow, along):
        yield from (one for one in pair if one is not None)


def _ways(spec: Spec, within: Windows, most: int) -> Iterator[tuple[Question, Walk]]:
    """Given ways of the row in roomy boxes, so many a box."""
    for size in _roomy_sizes(spec):
        for plot in plots(spec, size)[:PLACES_TRIED]:
            question = question_for(spec, plot, within)
            for way in islice(ways(question), most):
                yield question, way


def attempts_at_a_first(spec: Spec, within: Windows) -> list[list[Attempt]]:
    """Groups of attempts, each to be joined to those before it when they have had their turn; with restrictions that
    make them quick.

    Long rows: straight with repeating columns, then straight; then, as for short ones, everything free. Where each
    number has a lock of its own columns rarely repeat, but straight rows are found first (three kilns, 4 x 3 x 4, three
    seeds: 8 to 16 s against 7 to 55 s).
    """
    roomy = _roomy_sizes(spec)
    free = [
        (size, replace(question_for(spec, plot, within), row_unlocked=True))
        for size in roomy
        for plot in plots(spec, size)[:PLACES_TRIED]
    ]
    straight = list(_straight(spec, within, roomy))
    plain = [(size, question) for size, question, _ in straight]
    if any(watch.apart for watch in scheme_of(spec).watches):
        return [group for group in (plain, free) if group]
    if spec.outputs < LONG_ROW:
        return [free] if is_open(spec) else [plain + free]
    repeating = [
        (size, replace(question, repeat=repeat))
        for size, question, row in straight
        for repeat in _repeating_columns(question, row)
    ]
    return [group for group in (repeating, plain + free) if group]


def _straight(spec: Spec, within: Windows, roomy: Sequence[Size]) -> Iterator[tuple[Size, Question, Direction]]:
    for size in roomy:
        for plot in plots(spec, size)[:PLACES_TRIED]:
            for row in rows_of(plot, row_length(spec)):
                yield size, replace(question_for(spec, plot, within, straight=row), row_unlocked=True), row


def _roomy_sizes(spec: Spec) -> list[Size]:
    """The smallest shapes with about the room that a row of N needs, those it just fits first; the whole site."""
    length = row_length(spec)
    every = sizes(spec, lambda size: size[0] * size[1] * size[2])
    cells = (spec.outputs + 1) * ROOM_PER_COLUMN
    enough = [s for s in every if volume(s) >= cells and max(s[:2]) <= length + 2]
    fitting = [s for s in enough if max(s[:2]) == length]
    return list(dict.fromkeys([*fitting[:2], *enough[:1], *every[-1:]]))


def _repeating_columns(question: Question, row: Direction) -> Iterator[tuple[int, int]]:
    """All columns along the row but some at each end, as long as at least two are left."""
    last = question.grid.size[0 if row == "E" else 1] - 1
    return ((margin, last - margin) for margin in MARGINS if last - margin > margin)
