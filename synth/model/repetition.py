"""A long row repeats its cross-section: columns along the row are asked to be alike (design notes, "Long rows").

This narrows the search, not the laws: what it finds is as good as any, but that it finds nothing proves nothing.
"""

from __future__ import annotations

from sim.world.geometry import Cell, step
from synth.model.vocabulary import Vocabulary

_ROLES = ("row", "drop", "bin")


def columns_repeat(v: Vocabulary) -> None:
    """Between the question's first and last repeating column, each cell's wiring is that of the cell one step on."""
    q = v.question
    if q.repeat is None or q.straight is None:
        return
    axis = 0 if q.straight in "EW" else 1
    for cell in v.cells:
        ahead: Cell = step(cell, "E" if axis == 0 else "N")
        if q.repeat[0] <= cell[axis] < q.repeat[1] and ahead in v.kind:
            for kind, lit in v.kind[cell].items():
                if kind.name not in _ROLES:
                    v.clauses.add(-lit, v.kind[ahead][kind])
                    v.clauses.add(lit, -v.kind[ahead][kind])
            for delay, lit in v.delay[cell].items():
                v.clauses.add(-lit, v.delay[ahead][delay])
