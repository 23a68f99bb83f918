"""One scheme in one box: the model with the cost of every change, asked for lists of at most a given cost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from pysat.card import ITotalizer

from sim.analysis.checks import design_findings
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Part
from synth.confirm.judge import Judge
from synth.improve.differences import cost_terms
from synth.improve.nogoods import nogood
from synth.improve.reading import Meant
from synth.improve.request import Request
from synth.model.build import model_of
from synth.model.decode import chosen_kinds, layout_of, reading_order
from synth.model.likeness import same_literals
from synth.model.plots import Plot, question_for, windows
from synth.model.vocabulary import Vocabulary
from synth.schemes.scheme import Scheme
from synth.solving.budget import Budget, Outcome
from synth.solving.cnf import Cnf
from synth.solving.leaning import Leaning
from synth.solving.settling import settled, settling

SLICE: Final = 2_000
"""Conflicts between two looks at the clock and at whether anybody still waits."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A layout that passes, with the names of its nodes."""

    layout: Layout
    names: dict[Cell, str]


class Bench:
    """The search for one scheme in the box of ``build`` (its size). ``needed``: handovers under which it must pass.

    Time to build: linear in cells x reach; each question exponential in the worst case, in practice soon over, as few
    cells may differ.
    """

    def __init__(self, build: Layout, meant: Meant, scheme: Scheme, needed: tuple[int, ...], request: Request) -> None:
        self.build, self.request = build, request
        self.spec = meant.under(scheme)
        within = windows(self.spec, needed)
        self.judge = Judge(self.spec, needed)
        self.admitted = self.refused = 0
        question = question_for(self.spec, Plot((0, 0, 0), build.size), within)
        question = replace(question, standing=meant.standing, break_symmetry=False)
        self.v: Vocabulary = model_of(question)
        self.same = same_literals(self.v, build)
        terms = cost_terms(self.v, self.same, request.prices)
        cnf = Cnf(self.v.clauses)
        inputs = [lit for lit, weight in terms for _ in range(weight)]
        self._sum = ITotalizer(inputs, ubound=min(request.highest, len(inputs) - 1), top_id=cnf.count)
        self._solver = Leaning(cnf, request.seed)
        for clause in self._sum.cnf.clauses:
            self._solver.add(clause)
        self._index = {part.at: i for i, part in enumerate(build.parts)}

    def lean(self) -> None:
        """From now on try first what leaves cells as they are: lists are shorter, and often sooner found."""
        self._solver.prefer(self.same.values())

    def ask(self, cost: int | None, until: float) -> tuple[Outcome, Candidate | None]:
        """A layout that passes, by changes of at most that cost (None, or more than the request's most: of any); or the
        proof that the model admits none that passes (refused ones cut out by sound no-goods alone). ``until``: when to
        stop (``time.monotonic``)."""
        bound = [-self._sum.rhs[cost]] if cost is not None and cost < len(self._sum.rhs) else []
        budget = Budget.until(until, self.request.stop)
        return settled(settling(lambda: self._solver.solve(bound, SLICE), self._judged, budget, SLICE))

    def close(self) -> None:
        """Give the memory back."""
        self._solver.close()
        self._sum.delete()

    def accepts(self, layout: Layout) -> bool:
        """The layout passes."""
        return self.judge.accepts(layout)

    def _judged(self) -> Candidate | None:
        self.admitted += 1
        holds: Callable[[int], bool] = self._solver.holds
        layout = self._merged(layout_of(self.v, holds, self.spec))
        if self.judge.accepts(layout):
            return Candidate(layout, self._names())
        self.refused += 1
        findings = design_findings(layout, self.spec.rules)
        self._solver.add(nogood(self.v, holds, findings, self.judge.refused_by_finding(layout)))
        return None

    def _merged(self, decoded: Layout) -> Layout:
        """The build with the changes made: parts that stay are the build's own, in its order; a new one comes in the
        place of the one that it replaces, or at the end."""
        kept = {cell for cell, lit in self.same.items() if self._solver.holds(lit)}
        parts: dict[Cell, Part] = {part.at: part for part in decoded.parts if part.at not in kept}
        parts.update({cell: self.build.by_cell[cell] for cell in kept if cell in self.build.by_cell})
        last = len(self._index)
        ordered = sorted(parts, key=lambda cell: (self._index.get(cell, last), reading_order(cell)))
        return replace(self.build, parts=tuple(parts[cell] for cell in ordered))

    def _names(self) -> dict[Cell, str]:
        """T0, B1 and so on, with the stream's name where there are several."""
        kinds = chosen_kinds(self.v, self._solver.holds)
        several = len(self.v.streams) > 1
        names = {}
        for (x, y, z), kind in kinds.items():
            if kind.name == "row":
                of = f" of {self.spec.streams[kind.stream].name}" if several else ""
                names[x, y, z] = f"T{kind.index}{of}"
                if kind.index > 0:
                    names[x, y, z - 1] = f"B{kind.index}{of}"
        return names
