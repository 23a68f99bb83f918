"""What stands in the box and is not to be touched: containers of other rows, whose nodes no signal may lock."""

from __future__ import annotations

from synth.model.field import RowField
from synth.model.vocabulary import STANDING, Vocabulary


def standing_parts_stay(v: Vocabulary) -> None:
    """The cells of standing containers hold these, and no other cell does."""
    for cell in v.cells if v.question.standing else ():
        lit = v.is_(cell, STANDING)
        v.clauses.add(lit if cell in v.question.standing else -lit)


def standing_nodes_are_left_alone(v: Vocabulary, field: RowField, *, at_rest: bool) -> None:
    """In this row of the lock table nothing locks a node that stands; product nodes: ``at_rest``, with nothing in the
    nodes that are read."""
    for cell, kind in v.question.standing.items():
        if kind == "node" or (kind == "product" and at_rest):
            for cause in field.lock_causes(cell):
                v.clauses.add(-cause)


def barred_parts_stay_away(v: Vocabulary) -> None:
    """No part of a kind stands where the question bars that kind."""
    for cell, name in sorted(v.question.barred):
        for lit in v.of_name(cell, name):
            v.clauses.add(-lit)
