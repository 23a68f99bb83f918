"""Conjunctive normal form of the model: exactly-one groups and bounded sums spelt out as clauses; DIMACS text."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from pysat.card import CardEnc, EncType

from synth.model.clauses import FALSE, BoundedSum, Clauses, Lit

PAIRWISE_MOST: Final = 5
"""Up to so many literals "at most one" is said in pairs; above, by a sequential counter."""
KINDS_IN_PAIRS: Final = 48
"""The same where pairs are to cover all kinds of a cell: more clauses, fewer conflicts."""

Clause = tuple[Lit, ...]


class Cnf:
    """Clauses over the variables 1..``count``; the first ones are those of the model, under the same numbers."""

    def __init__(self, clauses: Clauses, pairwise_most: int = PAIRWISE_MOST) -> None:
        self.pairwise_most = pairwise_most
        self.count = clauses.count
        self.clauses: list[Clause] = list(clauses.clauses)
        for group in clauses.exactly_one_groups:
            self.clauses.append(tuple(group))
            self.clauses.extend(self._at_most_one(group))
        for total in clauses.sums:
            self.bounded(total)

    def bounded(self, total: BoundedSum) -> None:
        """``low`` <= sum of weight * literal <= ``high``, weights not negative.

        A literal of weight w stands w times in a totalizer (Bailleux and Boufkhad 2003; k-bounded), weights divided by
        their greatest common divisor. Size: inputs x bound x log(inputs).
        """
        terms = [(lit, weight) for lit, weight in total.terms if weight > 0 and lit != FALSE]
        unit = math.gcd(*(weight for _, weight in terms)) if terms else 1
        literals = [lit for lit, weight in terms for _ in range(weight // unit)]
        if total.high < 0 or total.low > len(literals) * unit:
            self.clauses.append((FALSE,))
            return
        most, least = total.high // unit, -(-total.low // unit)
        if most < len(literals):
            self._extend(CardEnc.atmost(literals, most, top_id=self.count, encoding=EncType.kmtotalizer))
        if least > 0:
            self._extend(CardEnc.atleast(literals, least, top_id=self.count, encoding=EncType.kmtotalizer))

    def _extend(self, encoded: CardEnc) -> None:
        self.clauses.extend(tuple(clause) for clause in encoded.clauses)
        self.count = max(self.count, encoded.nv)

    def _at_most_one(self, group: Sequence[Lit]) -> Iterator[Clause]:
        """In pairs, or by a sequential counter (Sinz 2005)."""
        if len(group) <= self.pairwise_most:
            yield from ((-a, -b) for i, a in enumerate(group) for b in group[:i])
            return
        seen = 0
        for i, lit in enumerate(group):
            if seen:
                yield (-seen, -lit)
            if i == len(group) - 1:
                return
            self.count += 1
            if seen:
                yield (-seen, self.count)
            yield (-lit, self.count)
            seen = self.count


def dimacs(count: int, clauses: Sequence[Clause], comments: Iterable[str] = ()) -> Iterator[str]:
    """The lines of a DIMACS file."""
    for comment in comments:
        yield f"c {comment}\n"
    yield f"p cnf {count} {len(clauses)}\n"
    for clause in clauses:
        yield " ".join(map(str, clause)) + " 0\n"
