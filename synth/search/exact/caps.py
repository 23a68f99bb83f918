"""Upper bounds on what a layout costs, as far as the model can count it: parts, price."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace
from typing import Final

from synth.model.clauses import BoundedSum
from synth.model.limits import cost
from synth.model.vocabulary import EMPTY, Vocabulary
from synth.solving.cnf import Cnf

COUNTED: Final = ("parts", "price")
"""Measures that are sums over the cells."""


@dataclass(frozen=True, slots=True)
class Caps:
    """At most so many parts, at most such a price; None: any. ``prices``: of one part of each kind."""

    parts: int | None = None
    price: int | None = None
    prices: tuple[tuple[str, int], ...] = ()

    def tightened(self, measure: str, most: int) -> Caps:
        """The same with a bound on one measure."""
        return replace(self, parts=most) if measure == "parts" else replace(self, price=most)

    def bound(self, measure: str) -> int | None:
        """The bound on one measure."""
        return self.parts if measure == "parts" else self.price

    def covers(self, other: Caps) -> bool:
        """Whatever keeps to ``other`` keeps to these caps too."""
        return all(
            mine is None or (theirs is not None and theirs <= mine)
            for mine, theirs in ((self.parts, other.parts), (self.price, other.price))
        )

    def imposed(self, v: Vocabulary, cnf: Cnf) -> Cnf:
        """The clauses with the bounds added."""
        if self.parts is None and self.price is None:
            return cnf
        bounded = copy(cnf)
        bounded.clauses = list(cnf.clauses)
        if self.parts is not None:
            bounded.bounded(BoundedSum(tuple((-v.is_(cell, EMPTY), 1) for cell in v.cells), 0, self.parts))
        if self.price is not None:
            bounded.bounded(BoundedSum(tuple(cost(v, dict(self.prices))), 0, self.price))
        return bounded

