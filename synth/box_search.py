"""The search in one box: solve, decode, confirm, strip, and forbid what was found or refused."""

from __future__ import annotations

import time
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from sim.geometry import Cell
from sim.parts import Part
from synth.decode import layout_of
from synth.judge import Judge
from synth.model.build import model_of
from synth.model.limits import cost
from synth.model.question import Question
from synth.result import Proposal
from synth.solver import Answer, CpSat, Effort, Outcome
from synth.spec import Spec

WIRING_KINDS = ("support", "line", "inverter", "relay", "gauge")


@dataclass(slots=True)
class Counts:
    """Candidates of the model and what became of them."""

    admitted: int = 0
    refused: int = 0

    def add(self, other: Counts) -> None:
        """Count the other's too."""
        self.admitted += other.admitted
        self.refused += other.refused


class BoxSearch:
    """One question, its model built and loaded once, and what has been found in it.

    ``needed``: the handovers under which a layout must pass every trial.
    """

    def __init__(self, spec: Spec, question: Question, needed: Sequence[int]) -> None:
        self.spec, self.judge = spec, Judge(spec, needed)
        self.model = model_of(question)
        self.solver = CpSat(self.model.clauses)
        self.counts = Counts()
        self.seconds = 0.0
        n = question.outputs
        self._item_parts = n + len(question.streams) * (2 * n + 2)  # furnaces; rows, drops and a bin each
        self._wiring = cost(self.model, dict.fromkeys(WIRING_KINDS, 1))

    def at_most_parts(self, most: int) -> None:
        """From now on only layouts with at most that many parts."""
        self.solver.at_most(self._wiring, most - self._item_parts)

    def next(self, effort: Effort) -> tuple[Outcome, Proposal | None]:
        """The next confirmed layout, different from those before; or why there is none.

        A refused candidate is forbidden together with all that have the same lock wiring, and the search goes on.
        """
        end = time.monotonic() + effort.limit_s
        while (left := end - time.monotonic()) > 0:
            answer = self.solver.solve(replace(effort, limit_s=left))
            self.seconds += answer.seconds
            if answer.outcome != "found":
                return answer.outcome, None
            if (proposal := self._judged(answer)) is not None:
                return "found", proposal
        return "stopped", None

    def _judged(self, answer: Answer) -> Proposal | None:
        """The solver's candidate, confirmed and stripped; None, and forbidden with its reason, if refused."""
        self.counts.admitted += 1
        candidate = layout_of(self.model, answer.holds, self.spec)
        proposal = self.judge.proposal(candidate)
        if proposal is None:
            self.counts.refused += 1
            self._forbid(answer, self._box_cells(part for part in candidate.parts if part.kind != "support"))
            return None
        self._forbid(answer, self._box_cells(proposal.layout.parts))
        return proposal

    def _box_cells(self, parts: Iterable[Part]) -> set[Cell]:
        """The cells of some parts of a layout, in the box's coordinates."""
        ox, oy, oz = self.model.question.origin
        return {(x - ox, y - oy, z - oz) for x, y, z in (part.at for part in parts)}

    def _forbid(self, answer: Answer, cells: Collection[Cell]) -> None:
        """No solution again with just these parts in these cells, whatever stands in the others."""
        clause = []
        for cell in cells:
            kind, lit = next((k, lit) for k, lit in self.model.kind[cell].items() if answer.holds(lit))
            clause.append(-lit)
            if kind.name == "relay":
                clause += [-delay for delay in self.model.delay[cell].values() if answer.holds(delay)]
        self.solver.forbid_not(clause)
