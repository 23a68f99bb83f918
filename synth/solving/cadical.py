"""The adapter to CaDiCaL (through python-sat): incremental, with assumptions and a budget of conflicts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib.metadata import version
from typing import Final

from pysat.solvers import Cadical195

from synth.model.clauses import Clauses, Lit
from synth.solving.cnf import Cnf

SOLVER: Final = f"CaDiCaL 1.9.5 (python-sat {version('python-sat')})"
FOR_CUBES: Final = {"stabilizeonly": 1, "probe": 0}
"""Options for one cube after the other: the mode with few restarts, and no probing (benchmarks/README.md)."""


class Cadical:
    """One set of clauses, loaded once; clauses may be added between solves. Learned clauses are kept.

    ``solve`` holds the interpreter's lock: whoever must stop one early runs it in a process of its own.
    ``options``: of CaDiCaL, by name.
    """

    def __init__(
        self, clauses: Clauses | Cnf, seed: int = 0, options: Mapping[str, int] | None = None
    ) -> None:
        cnf = clauses if isinstance(clauses, Cnf) else Cnf(clauses)
        self._solver = Cadical195()
        self._solver.configure({"seed": seed, **(options or {})})
        self._solver.append_formula(cnf.clauses)
        self._true: frozenset[Lit] = frozenset()

    def add(self, clause: Sequence[Lit]) -> None:
        """At least one of the literals holds."""
        self._solver.add_clause(clause)

    def solve(self, assumptions: Sequence[Lit] = (), conflicts: int | None = None) -> bool | None:
        """True: there is a solution under the assumptions; False: proved that there is none; None: budget used up."""
        if conflicts is None:
            outcome = self._solver.solve(assumptions=list(assumptions))
        else:
            self._solver.conf_budget(conflicts)
            outcome = self._solver.solve_limited(assumptions=list(assumptions))
        self._true = frozenset(self._solver.get_model()) if outcome else frozenset()
        return None if outcome is None else bool(outcome)

    def holds(self, lit: Lit) -> bool:
        """The value of a literal in the solution that was found last (a variable in no clause is false)."""
        return lit in self._true if lit > 0 else -lit not in self._true

    def close(self) -> None:
        """Give the memory back."""
        self._solver.delete()
