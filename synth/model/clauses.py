"""What the model says, in a solver's neutral form: clauses, exactly-one groups and bounded sums over literals.

A literal is a non-zero integer, negative for "not" (as in DIMACS). Literal 1 is always true. Constraint families add
to a ``Clauses``; an adapter hands it to a solver. Constants are simplified away on the way in.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from operator import neg
from typing import Final

Lit = int
TRUE: Final[Lit] = 1
FALSE: Final[Lit] = -1


@dataclass(frozen=True, slots=True)
class BoundedSum:
    """``low`` <= sum of weight * literal <= ``high``."""

    terms: tuple[tuple[Lit, int], ...]
    low: int
    high: int


@dataclass(slots=True)
class Clauses:
    """A growing set of constraints over Boolean variables 1..``count``."""

    count: int = 1
    clauses: list[tuple[Lit, ...]] = field(default_factory=lambda: [(TRUE,)])
    exactly_one_groups: list[tuple[Lit, ...]] = field(default_factory=list)
    sums: list[BoundedSum] = field(default_factory=list)
    _conjunctions: dict[tuple[Lit, ...], Lit] = field(default_factory=dict)

    def new(self) -> Lit:
        """A fresh variable."""
        self.count += 1
        return self.count

    def add(self, *literals: Lit) -> None:
        """At least one of the literals holds."""
        kept = set(literals)
        if len(kept) == len(literals) and kept.isdisjoint((TRUE, FALSE, *map(neg, literals))) and kept:
            self.clauses.append(literals)  # nearly all
            return
        kept.discard(FALSE)
        if kept.isdisjoint((TRUE, *map(neg, kept))):
            self.clauses.append(tuple(dict.fromkeys(lit for lit in literals if lit != FALSE)) or (FALSE,))

    def implies(self, causes: Sequence[Lit], *effects: Lit) -> None:
        """If all ``causes`` hold, so does one of ``effects`` (none given: they do not all hold)."""
        self.add(*(-cause for cause in causes), *effects)

    def exactly_one(self, literals: Iterable[Lit]) -> None:
        """Just one of the literals holds."""
        kept = tuple(lit for lit in literals if lit != FALSE)
        if not kept:
            self.add(FALSE)
        else:
            self.exactly_one_groups.append(kept)

    def any_of(self, literals: Iterable[Lit]) -> Lit:
        """A literal that holds just when one of ``literals`` does."""
        kept = list(dict.fromkeys(lit for lit in literals if lit != FALSE))
        if TRUE in kept:
            return TRUE
        if not kept:
            return FALSE
        if len(kept) == 1:
            return kept[0]
        defined = self.new()
        self.define(defined, kept)
        return defined

    def define(self, defined: Lit, causes: Iterable[Lit]) -> None:
        """``defined`` holds just when one of ``causes`` does: on needs a cause, off needs no cause."""
        kept = list(causes)
        for cause in kept:
            self.add(-cause, defined)
        self.add(-defined, *kept)

    def both(self, *literals: Lit) -> Lit:
        """A literal that holds just when all of ``literals`` do."""
        kept = tuple(sorted({lit for lit in literals if lit != TRUE}))
        if FALSE in kept or any(-lit in kept for lit in kept):
            return FALSE
        if not kept:
            return TRUE
        if len(kept) == 1:
            return kept[0]
        if kept not in self._conjunctions:
            defined = self.new()
            for lit in kept:
                self.add(-defined, lit)
            self.add(defined, *(-lit for lit in kept))
            self._conjunctions[kept] = defined
        return self._conjunctions[kept]

    def bounded(self, terms: Iterable[tuple[Lit, int]], low: int, high: int) -> None:
        """``low`` <= sum of weight * literal <= ``high``."""
        self.sums.append(BoundedSum(tuple((lit, w) for lit, w in terms if lit != FALSE), low, high))
