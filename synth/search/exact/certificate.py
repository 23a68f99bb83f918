"""A second opinion on "none exists": the same box asked again of other solvers, whose proofs are checked.

The search settles a box row by row, with CaDiCaL. Here the box is asked as one formula, its mirror images broken by
where the bin stands and not by rows, and nothing of the search is used:

- CP-SAT, with every step of its proof checked while it runs (LRAT, Cruz-Filipe et al. 2017);
- Glucose, whose proof (DRUP, Heule et al. 2013) a checker that shares no code with any solver runs again.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from importlib.metadata import version
from typing import Any, Final, Literal

from ortools.sat.python import cp_model
from pysat.solvers import Glucose42

from synth.model.build import model_of
from synth.model.clauses import Lit
from synth.model.question import Question
from synth.model.vocabulary import Vocabulary
from synth.search.exact.caps import Caps
from synth.search.exact.cubes import cubes_of, literals_of
from synth.solving.cnf import Cnf, dimacs

CP_SAT: Final = f"ortools CP-SAT {version('ortools')}, LRAT checked"
GLUCOSE: Final = f"Glucose 4.2 (python-sat {version('python-sat')})"
VALID: Final = "LRAT_status: VALID"

Opinion = Literal["none exists", "found", "undecided"]


@dataclass(frozen=True, slots=True)
class Second:
    """What another solver says. ``checked``: its proof was checked and is right; ``steps`` of the proof (0: untold)."""

    by: str
    opinion: Opinion
    checked: bool
    seconds: float
    steps: int = 0

    def as_json(self) -> dict[str, Any]:
        """The opinion as it stands in the record."""
        return {**asdict(self), "seconds": round(self.seconds, 1)}


@dataclass(frozen=True, slots=True)
class Formula:
    """The question of one box as clauses over 1..``count``; ``sha256`` of its DIMACS text names it."""

    model: Vocabulary
    cnf: Cnf

    @property
    def sha256(self) -> str:
        """The digest of the DIMACS text."""
        hashed = hashlib.sha256()
        for line in dimacs(self.cnf.count, self.cnf.clauses):
            hashed.update(line.encode())
        return hashed.hexdigest()


def formula_of(question: Question, caps: Caps) -> Formula:
    """The question as one formula, with the caps on parts and price."""
    v = model_of(question)
    return Formula(v, caps.imposed(v, Cnf(v.clauses)))


def by_cp_sat(formula: Formula, limit_s: float, seed: int = 0) -> Second:
    """CP-SAT on the clauses alone: nothing presolved, nothing linear, so that every step of the proof is checked."""
    model = cp_model.CpModel()
    variables = [model.new_bool_var("") for _ in range(formula.cnf.count + 1)]
    for clause in formula.cnf.clauses:
        model.add_bool_or([variables[lit] if lit > 0 else ~variables[-lit] for lit in clause])
    solver = cp_model.CpSolver()
    parameters = solver.parameters
    parameters.num_workers = 1
    parameters.linearization_level = 0
    parameters.cp_model_probing_level = 0
    parameters.symmetry_level = 0
    parameters.cp_model_presolve = False
    parameters.check_lrat_proof = True
    parameters.max_time_in_seconds = limit_s
    parameters.random_seed = seed
    parameters.log_search_progress = True
    parameters.log_to_stdout = False
    lines: list[str] = []
    solver.log_callback = lines.append
    status = solver.solve(model)
    opinion: Opinion = "undecided"
    if status == cp_model.INFEASIBLE:
        opinion = "none exists"
    elif status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        opinion = "found"
    checked = opinion == "none exists" and any(line.strip() == VALID for text in lines for line in text.splitlines())
    return Second(CP_SAT, opinion, checked, solver.wall_time)


def by_glucose(formula: Formula, conflicts: int, assumed: Sequence[Lit] = ()) -> Second:
    """Glucose, its proof checked by dratify; ``assumed``: literals that are added as clauses.

    Needs the packages of the development environment. Raises ImportError without them.
    """
    import cdclkit_native
    import dratify

    dratify.register_native(cdclkit_native)  # dratify's checker in Rust

    began = time.monotonic()
    clauses = [*formula.cnf.clauses, *((lit,) for lit in assumed)]
    with Glucose42(bootstrap_with=clauses, with_proof=True) as solver:
        solver.conf_budget(conflicts)
        outcome = solver.solve_limited()
        if outcome is not False:
            opinion: Opinion = "found" if outcome else "undecided"
            return Second(GLUCOSE, opinion, False, time.monotonic() - began)
        proof = solver.get_proof()
    text = "".join(dimacs(formula.cnf.count, clauses))
    result = dratify.check_proof(dratify.parse_dimacs(text), "\n".join(proof), engine="native")
    checked = bool(result.ok and result.reached_empty)
    by = f"{GLUCOSE}, proof checked by dratify {version('dratify')}"
    return Second(by, "none exists", checked, time.monotonic() - began, len(proof))


def by_glucose_row_by_row(question: Question, caps: Caps, conflicts: int) -> Second:
    """As ``by_glucose``, the formula cut into the rows of the search; stops at the first that is not settled."""
    formula = formula_of(question, caps)
    seconds, steps, by = 0.0, 0, GLUCOSE
    for cube in cubes_of(question):
        second = by_glucose(formula, conflicts, literals_of(formula.model, cube))
        seconds += second.seconds
        steps += second.steps
        by = second.by
        if second.opinion != "none exists" or not second.checked:
            return Second(by, second.opinion, False, seconds, steps)
    return Second(f"{by}, row by row", "none exists", True, seconds, steps)
