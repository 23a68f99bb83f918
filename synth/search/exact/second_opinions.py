"""Second opinions on a box (``certificate``) as work for an engine, on this machine or on a cluster."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from synth.model.question import Question
from synth.search.exact.caps import Caps
from synth.search.exact.certificate import by_cp_sat, by_glucose, by_glucose_row_by_row, formula_of
from synth.solving.parallel.work import Tell, Work


@dataclass(frozen=True, slots=True)
class Doubt:
    """The box's question under caps; conflicts for Glucose on the whole and on each row, seconds for CP-SAT."""

    question: Question
    caps: Caps
    whole_conflicts: int
    row_conflicts: int
    limit_s: float


def opinions_on(doubt: Doubt, _seconds: float, _tell: Tell) -> dict[str, Any]:
    """The opinions and the formula that they are about, as the certificates have them."""
    formula = formula_of(doubt.question, doubt.caps)
    glucose = by_glucose(formula, doubt.whole_conflicts)
    if glucose.opinion == "undecided":
        glucose = by_glucose_row_by_row(doubt.question, doubt.caps, doubt.row_conflicts)
    return {
        "variables": formula.cnf.count,
        "clauses": len(formula.cnf.clauses),
        "sha256": formula.sha256,
        "opinions": [opinion.as_json() for opinion in (glucose, by_cp_sat(formula, doubt.limit_s))],
    }


def _none(_so_far: object, why: str) -> dict[str, Any]:
    return {"open": why}


OPINIONS: Final = Work(opinions_on, _none)
