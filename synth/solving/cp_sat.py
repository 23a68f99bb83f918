"""The adapter to CP-SAT: clauses in, a verdict out. "None exists" and "stopped by a limit" are different answers."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from typing import Final

from ortools.sat.python import cp_model

from synth.model.clauses import Clauses, Lit
from synth.solving.budget import Outcome, Stop

SOLVER: Final = f"ortools CP-SAT {version('ortools')}"
FAR_S: Final = 1e6
"""Seconds that end nothing."""


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard to try: seconds of wall time, seed, conflicts (None: any number). ``stop`` ends a solve early when it is
    set."""

    limit_s: float
    seed: int = 0
    stop: Stop | None = None
    conflicts: int | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """``found`` with the solution's values, ``none exists`` with a proof of infeasibility, ``stopped`` by a limit."""

    outcome: Outcome
    seconds: float
    values: tuple[bool, ...] = ()

    def holds(self, lit: Lit) -> bool:
        """The value of a literal in the solution."""
        return self.values[lit] if lit > 0 else not self.values[-lit]


class CpSat:
    """One model, loaded once; clauses may be added between solves."""

    def __init__(self, clauses: Clauses) -> None:
        self.model = cp_model.CpModel()
        self._vars = [self.model.new_bool_var("") for _ in range(clauses.count + 1)]
        for clause in clauses.clauses:
            self.forbid_not(clause)
        for group in clauses.exactly_one_groups:
            self.model.add_exactly_one([self._lit(lit) for lit in group])
        for total in clauses.sums:
            terms = sum(weight * self._lit(lit) for lit, weight in total.terms)
            self.model.add_linear_constraint(terms, total.low, total.high)

    def forbid_not(self, clause: Sequence[Lit]) -> None:
        """At least one of the literals holds."""
        self.model.add_bool_or([self._lit(lit) for lit in clause])

    def at_most(self, terms: Sequence[tuple[Lit, int]], most: int) -> None:
        """The weighted count is at most ``most``."""
        self.model.add(sum(weight * self._lit(lit) for lit, weight in terms) <= most)

    def solve(self, effort: Effort) -> Answer:
        """Solve under ``effort``."""
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = max(0.01, effort.limit_s)
        # One worker, clauses only: several times less processor time than any parallel set-up tried (benchmarks/), and
        # the same answer each time for the same seed. The cores work on different boxes instead.
        solver.parameters.num_workers = 1
        solver.parameters.linearization_level = 0
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.symmetry_level = 0
        solver.parameters.random_seed = effort.seed
        solver.parameters.catch_sigint_signal = False
        if effort.conflicts is not None:
            solver.parameters.max_number_of_conflicts = effort.conflicts
        with _Stopper(solver, effort.stop):
            status = solver.solve(self.model)
        seconds = solver.wall_time
        if status == cp_model.INFEASIBLE:
            return Answer("none exists", seconds)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Answer("stopped", seconds)
        return Answer("found", seconds, tuple(bool(solver.value(var)) for var in self._vars))

    def _lit(self, lit: Lit) -> cp_model.LiteralT:
        var = self._vars[abs(lit)]
        return var if lit > 0 else ~var


class CpSatEngine:
    """CP-SAT as the loop of jobs drives a solver (``exact.job``; the same calls as ``exact.cadical.Cadical``)."""

    def __init__(self, clauses: Clauses, seed: int = 0) -> None:
        self._solver, self._seed = CpSat(clauses), seed
        self._last = Answer("stopped", 0.0)

    def add(self, clause: Sequence[Lit]) -> None:
        """At least one of the literals holds."""
        self._solver.forbid_not(clause)

    def solve(self, assumptions: Sequence[Lit] = (), conflicts: int | None = None) -> bool | None:
        """True: there is a solution; False: proved that there is none; None: budget used up. Takes no assumptions."""
        if assumptions:
            raise ValueError("CP-SAT is given no assumptions here")
        self._last = self._solver.solve(Effort(FAR_S, self._seed, conflicts=conflicts))
        return {"found": True, "none exists": False, "stopped": None}[self._last.outcome]

    def holds(self, lit: Lit) -> bool:
        """The value of a literal in the solution that was found last."""
        return self._last.holds(lit)

    def close(self) -> None:
        """Nothing has to be given back."""


class _Stopper:
    """While entered, the stop event ends the solve."""

    def __init__(self, solver: cp_model.CpSolver, stop: Stop | None) -> None:
        self._solver, self._stop, self._over = solver, stop, threading.Event()
        self._thread = threading.Thread(target=self._wait, daemon=True)

    def __enter__(self) -> None:
        if self._stop is not None:
            self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._over.set()

    def _wait(self) -> None:
        assert self._stop is not None
        while not self._over.wait(0.1):
            if self._stop.is_set():
                self._solver.stop_search()
                return
