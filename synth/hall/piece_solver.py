"""One question of pieces in the hands of CaDiCaL: solved in slices, so that limits and Ctrl-C are heard; bounds on
counts of parts come as assumptions, so that what was learned is kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Final, TypeVar

from pysat.card import ITotalizer

from sim.world.parts import Part
from synth.hall.piece_question import PieceQuestion
from synth.hall.pieces import WIRING
from synth.model.build import model_of
from synth.model.clauses import FALSE, Lit
from synth.model.decode import chosen_delays, chosen_kinds, wiring_part
from synth.model.vocabulary import Kind
from synth.solving.budget import Budget, Outcome
from synth.solving.cadical import Cadical
from synth.solving.cnf import Cnf
from synth.solving.settling import settled, settling

Found = TypeVar("Found")
Bound = tuple[Sequence[Lit], int]
SLICE: Final = 2_000
"""Conflicts between two looks at the clock."""


class PieceSolver:
    """The model of one question, and the wiring of its last solution."""

    def __init__(self, asked: PieceQuestion, seed: int = 0) -> None:
        self.asked = asked
        self.v = model_of(asked.question)
        self._wired = {
            cell: self.v.clauses.any_of(lit for kind, lit in kinds.items() if kind.name in WIRING)
            for cell, kinds in self.v.kind.items()
        }
        cnf = Cnf(self.v.clauses)
        self._top = cnf.count
        self._solver = Cadical(cnf, seed)
        self._totals: dict[tuple[Lit, ...], ITotalizer] = {}

    def close(self) -> None:
        """Give the memory back."""
        self._solver.close()

    def solve(self, budget: Budget, bounds: Iterable[Bound] = ()) -> Outcome:
        """``bounds``: (literals, most): at most so many of them hold."""
        return self.judged(budget, bounds, lambda: True)[0]

    def judged(
        self, budget: Budget, bounds: Iterable[Bound], accepted: Callable[[], Found | None]
    ) -> tuple[Outcome, Found | None]:
        """The first solution that is ``accepted``, as what it is accepted as; None: refused, and forbidden by it."""
        assumptions = [lit for literals, most in bounds for lit in self._at_most(literals, most)]
        return settled(settling(lambda: self._solver.solve(assumptions, SLICE), accepted, budget, SLICE))

    def fix(self, parts: Iterable[Part], columns: Iterable[int]) -> None:
        """In these columns of the wing the wiring is just ``parts`` (delays of relays stay open)."""
        within = set(columns)
        wanted = {part.at: part for part in parts}
        for cell in self.v.cells:
            at = self.asked.outside(cell)
            if at[0] in within:
                for kind, lit in self.v.kind[cell].items():
                    if kind.name in WIRING:
                        is_it = at in wanted and _is(wanted[at], kind)
                        if not is_it:
                            self._solver.add((-lit,))
                        elif kind.name != "gauge":
                            self._solver.add((lit,))

    def wiring_literals(self, columns: Iterable[int]) -> list[Lit]:
        """For each cell of these columns of the wing, the literal that says that it holds wiring."""
        within = set(columns)
        return [lit for cell, lit in self._wired.items() if self.asked.outside(cell)[0] in within and lit != FALSE]

    def wiring(self) -> list[Part]:
        """The wiring of the last solution, in the coordinates of the wing."""
        kinds = chosen_kinds(self.v, self._solver.holds)
        delays = chosen_delays(self.v, self._solver.holds)
        made = (wiring_part(self.asked.outside(cell), kind, delays[cell]) for cell, kind in kinds.items())
        return [part for part in made if part is not None]

    def forbid(self, parts: Iterable[Part]) -> None:
        """Not this wiring again: not all of the signal parts among ``parts`` (supports may differ)."""
        at = {part.at: part for part in parts if part.kind != "support"}
        clause = []
        for cell in self.v.cells:
            part = at.get(self.asked.outside(cell))
            if part is not None:
                clause += [-lit for kind, lit in self.v.kind[cell].items() if _is(part, kind) and self._holds(lit)]
                if part.kind == "relay":
                    clause += [-lit for lit in self.v.delay[cell].values() if self._holds(lit)]
        self._solver.add(clause)

    def _holds(self, lit: Lit) -> bool:
        return self._solver.holds(lit)

    def _at_most(self, literals: Sequence[Lit], most: int) -> list[Lit]:
        """Assumptions that bound a count (totalizer: Bailleux and Boufkhad 2003)."""
        key = tuple(literals)
        if most >= len(key):
            return []
        if key not in self._totals:
            total = ITotalizer(list(key), ubound=len(key) - 1, top_id=self._top)
            for clause in total.cnf.clauses:
                self._solver.add(clause)
            self._top = max(self._top, total.top_id)
            self._totals[key] = total
        return [-self._totals[key].rhs[most]]


def _is(part: Part, kind: Kind) -> bool:
    """The part is of that kind (delays aside)."""
    if part.kind != kind.name:
        return False
    direction = getattr(part, "mount", None) or getattr(part, "output", None)
    return direction == kind.direction


def columns_of(parts: Iterable[Part], columns: Iterable[int]) -> list[Part]:
    """Those of the parts that stand in these columns."""
    within = set(columns)
    return [part for part in parts if part.at[0] in within]
