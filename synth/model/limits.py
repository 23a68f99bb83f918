"""Part limits of the spec, and what a solver is asked to make small."""

from __future__ import annotations

from collections.abc import Mapping

from synth.model.clauses import Lit
from synth.model.vocabulary import Vocabulary

_NODES = ("row", "drop")


def literals_of_kind(v: Vocabulary, kind: str) -> list[Lit]:
    """The literals that say a cell holds a part of that kind (a word of the files)."""
    names = _NODES if kind == "node" else (kind,)
    return [lit for kinds in v.kind.values() for k, lit in kinds.items() if k.name in names]


def part_limits(v: Vocabulary) -> None:
    """No kind is used more often than its limit."""
    for kind, most in v.question.most.items():
        lits = literals_of_kind(v, kind)
        if most < len(lits):
            v.clauses.bounded([(lit, 1) for lit in lits], 0, most)


def cost(v: Vocabulary, weights: Mapping[str, int]) -> list[tuple[Lit, int]]:
    """Terms of a weighted count of parts by kind."""
    return [(lit, weight) for kind, weight in weights.items() if weight for lit in literals_of_kind(v, kind)]
