"""The readings in which the model looks at the signals: enough of them for every row of the lock table."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from synth.model.question import Question
from synth.schemes.scheme import LockRow, Scheme

Readings = tuple[int, ...]
"""For each watch, what its gauges read."""


def states_of(question: Question) -> Iterator[tuple[LockRow, Readings]]:
    """Rows of the lock table with readings that fall under them.

    A watch whose level is above 1 reads less than it in several ways, each of which is looked at. (Readings above the
    level are left to the simulator: levels fall a step a cell, so that which lines they reach is known by trial.)
    """
    scheme, top = question.scheme, question.levels
    holds = top if scheme.reads_full else min(question.reading, top)
    for row in scheme.table if question.standing else rows_that_tell(scheme):  # what stands is of no class
        ways = [
            (max(watch.level, holds),) if reads else tuple(range(watch.level))
            for watch, reads in zip(scheme.watches, row.reads, strict=True)
        ]
        for readings in product(*ways):
            yield row, readings


def rows_that_tell(scheme: Scheme) -> tuple[LockRow, ...]:
    """Rows of the table that show each class of nodes all that can act on it.

    Where watches act on some classes alone (``Watch.locks``, a constraint of the model), what the others read makes no
    difference to a class: of the rows that are alike in what does, one will do.
    """
    if not all(watch.locks for watch in scheme.watches):
        return scheme.table
    views = {
        row: {
            (nodes, *(reads for watch, reads in zip(scheme.watches, row.reads, strict=True) if nodes in watch.locks))
            for nodes in scheme.classes
        }
        for row in scheme.table
    }
    wanting, kept = set().union(*views.values()), []
    while wanting:
        kept.append(max(scheme.table, key=lambda row: len(views[row] & wanting)))
        wanting -= views[kept[-1]]
    return tuple(kept)
