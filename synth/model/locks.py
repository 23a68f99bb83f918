"""What the truth table asks of the nodes (scheme): each B locked in just the rows that say so, no T ever."""

from __future__ import annotations

from synth.model.field import RowField
from synth.model.vocabulary import Vocabulary


def nodes_obey(v: Vocabulary, field: RowField, locked: bool) -> None:
    """In this row every B node is locked (or none is), and no T node."""
    for cell in v.cells:
        causes = field.lock_causes(cell)
        for s in v.streams:
            row, drop = v.is_row(cell, s), v.is_drop(cell, s)
            if locked:
                v.clauses.add(-drop, *causes)
            for cause in causes:
                v.clauses.add(-row, -cause)
                if not locked:
                    v.clauses.add(-drop, -cause)
