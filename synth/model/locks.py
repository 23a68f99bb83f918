"""What the truth table asks of the nodes (scheme): each class of nodes locked in just the rows that say so."""

from __future__ import annotations

from synth.model.field import RowField
from synth.model.vocabulary import Vocabulary
from synth.schemes.scheme import LockRow


def nodes_obey(v: Vocabulary, field: RowField, row: LockRow) -> None:
    """In this row every node of a class is locked, or none is."""
    for cell in v.cells:
        causes = field.lock_causes(cell)
        for s in v.streams:
            nodes = [v.is_among(cell, s, one) for one in v.question.scheme.classes]
            locked = [node for node, is_locked in zip(nodes, row.locked, strict=True) if is_locked]
            free = [node for node, is_locked in zip(nodes, row.locked, strict=True) if not is_locked]
            for node in locked:
                v.clauses.add(-node, *causes)
            for cause in causes:
                for node in free:
                    v.clauses.add(-node, -cause)
