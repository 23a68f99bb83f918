"""What the truth table asks of the nodes (scheme): each class of nodes locked, or not, in the rows that say so."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.world.geometry import Cell
from synth.model.clauses import Lit
from synth.model.field import RowField
from synth.model.vocabulary import Vocabulary
from synth.schemes.scheme import LockRow


def nodes_obey(v: Vocabulary, field: RowField, row: LockRow) -> None:
    """In this row every node of a class is locked, or none is, where the table has a say; where the question keeps the
    T nodes unlocked, none of them is that the scheme does not lock."""
    for cell in v.cells:
        causes = field.lock_causes(cell)
        for s in v.streams:
            asked = list(_asked(v, cell, s, row))
            for node in (node for node, is_locked in asked if is_locked):
                v.clauses.add(-node, *causes)
            free = [node for node, is_locked in asked if is_locked is False]
            for cause in causes:
                for node in free:
                    v.clauses.add(-node, -cause)


def _asked(v: Vocabulary, cell: Cell, stream: int, row: LockRow) -> Iterator[tuple[Lit, bool | None]]:
    """The nodes of each class, and whether they are locked."""
    unlocked = v.question.row_unlocked and all(one.role == "B" for one in v.question.scheme.lockable())
    if unlocked:
        yield v.is_row(cell, stream), False
    for nodes, is_locked in zip(v.question.scheme.classes, row.locked, strict=True):
        if nodes.role == "B" or not unlocked:
            yield v.is_among(cell, stream, nodes), is_locked


def no_node_is_always_locked(v: Vocabulary, fields: Sequence[RowField]) -> None:
    """Nodes of no class are unlocked in some row of the table (those of a class are by the table itself): a design
    check refuses a node that never acts."""
    classes = v.question.scheme.classes
    for cell in v.cells if not v.question.row_unlocked else ():
        locked = [v.clauses.any_of(field.lock_causes(cell)) for field in fields]
        for s in v.streams:
            of_a_class = [v.is_among(cell, s, one) for one in classes]
            for node in (v.is_row(cell, s), v.is_drop(cell, s)):
                v.clauses.implies((node, *locked), *of_a_class)
