"""The search in one box: solve, decode, confirm, strip, and forbid what was found or refused."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from sim.parts import Part
from synth.decode import box_cells, layout_of
from synth.exact.cuts import same_parts
from synth.judge import Judge
from synth.model.build import model_of
from synth.model.question import Question
from synth.result import Proposal
from synth.solver import Answer, CpSat, Effort, Outcome
from synth.spec import Spec


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
            self._forbid(answer, (part for part in candidate.parts if part.kind != "support"))
            return None
        self._forbid(answer, proposal.layout.parts)
        return proposal

    def _forbid(self, answer: Answer, parts: Iterable[Part]) -> None:
        """No solution again with just these parts in their cells, whatever stands in the others."""
        self.solver.forbid_not(same_parts(self.model, answer.holds, box_cells(self.model, parts)))
