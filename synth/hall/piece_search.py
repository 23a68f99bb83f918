"""The pieces of one row, each solved exactly: the stretch with the fewest parts, then the shortest head and tail that
go with it, then the fewest parts in these (design notes, "Long rows").

Each stage asks the model of a short row whose columns are all alike; a stage that is cut short by a limit keeps the
best found and says so. Every set of pieces is run in the simulator, as a short row, before it is used.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from time import monotonic
from typing import Final

from sim.world.parts import Part
from synth.hall.piece_question import (
    PieceQuestion,
    Site,
    lead_of,
    longest_in_time,
    piece_question,
    smallest_number,
    windows_of,
)
from synth.hall.piece_request import PieceRequest
from synth.hall.piece_scope import limits_of
from synth.hall.piece_solver import PieceSolver, columns_of
from synth.hall.pieces import BEST, FEWEST, PieceClaim, RowPieces, shifted
from synth.hall.short_row import works_as_a_row
from synth.model.clauses import Lit
from synth.schemes.registry import scheme_named
from synth.schemes.scheme import Scheme, Windows
from synth.solving.budget import Budget, Outcome
from synth.solving.cadical import SOLVER

STRETCH_MOST: Final = 8
"""Wiring parts of a stretch that are tried."""
TRIES: Final = 20
"""Candidates that may be refused in the simulator, a stage."""
LIKE_SHARE: Final = 0.5
"""Of the time, for another head and tail in the same columns."""
STRETCH_SHARE: Final = 0.5
"""Of the time, for the stretch."""


def find_pieces(asked: PieceRequest, budget: Budget) -> RowPieces | None:
    """The pieces, with what is shown of each; None: none found within the budget (or none exists: ``impossible``)."""
    return _Search(asked, budget).run()


@dataclass(frozen=True, slots=True)
class _Found:
    site: Site
    wiring: Sequence[Part]


class _Search:
    def __init__(self, asked: PieceRequest, budget: Budget) -> None:
        self.asked, self.budget = asked, budget
        self.scheme: Scheme = scheme_named(asked.scheme)
        self.n = smallest_number(self.scheme, asked.section)
        self.lead = lead_of(self.scheme, asked.section)
        self.claims: list[PieceClaim] = []
        self.refused = False

    @property
    def windows(self) -> Windows:
        asked = self.asked
        n = longest_in_time(self.scheme, asked.rules, asked.handovers, asked.spare)
        return windows_of(self.scheme, asked.rules, n, asked.handovers, asked.spare)

    def run(self) -> RowPieces | None:
        found = None if self.asked.like is None else self._as_before(self.asked.like)
        if found is None and self.asked.section is not None:
            found = self._shortest(self.asked.section.stretch(self.asked.lane.face), self.asked.room, None)
        elif found is None and (first := self._stretch()) is not None:
            found = self._shortest(self._stretch_of(first), first.site, first)
        if found is None:
            return None
        best = self._fewest(found, self._stretch_of(found))
        return self._cut(best)

    def _as_before(self, like: RowPieces) -> _Found | None:
        """Another head and tail for that stretch, in as many columns. What was proved of these when less was barred
        still holds."""
        solver = self._with(like.stretch, Site(like.before, like.after, like.lanes))
        _, wiring = self._confirmed(solver, self.budget.part(LIKE_SHARE))
        site = self._site_of(solver)
        solver.close()
        if wiring is None:
            return None
        self.claims += like.claims[:2]
        return _Found(site, wiring)

    # -- the stretch --------------------------------------------------------------------------------------------------

    def _stretch(self) -> _Found | None:
        budget = self.budget.part(STRETCH_SHARE)
        for lanes in range(1, self.asked.room.lanes + 1):
            began = monotonic()
            site = replace(self.asked.room, lanes=lanes)
            solver = PieceSolver(self._question(site), self.asked.seed)
            proved = True
            for most in range(1, STRETCH_MOST + 1):
                self._tell(f"a stretch with {most} parts, wiring lanes: {lanes}")
                outcome, wiring = self._confirmed(solver, budget, [(self._column(solver), most)])
                if wiring is not None:
                    solver.close()
                    self._claim("stretch", f"{most} wiring parts a furnace", proved and not self.refused, began, site)
                    return _Found(site, wiring)
                proved &= outcome == "none exists"
                if budget.is_over:
                    break
            solver.close()
            if budget.is_over:
                return None
        return None

    def _column(self, solver: PieceSolver) -> list[Lit]:
        return solver.wiring_literals((solver.asked.lead,))

    # -- head and tail ------------------------------------------------------------------------------------------------

    def _shortest(self, stretch: Sequence[Part], room: Site, found: _Found | None) -> _Found | None:
        """Head and tail in as few columns as they can have with that stretch; ``found``: those of all the room."""
        began, proved = monotonic(), not self.refused
        for site in self._sites(room):
            if found is not None and site.before + site.after >= room.before + room.after:
                break
            if self.budget.is_over:
                proved = False
                break
            self._tell(f"{site}")
            solver = self._with(stretch, site)
            outcome, wiring = self._confirmed(solver, self.budget.part(0.5))
            solver.close()
            if wiring is not None:
                found = _Found(site, wiring)
                break
            proved &= outcome == "none exists"
        if found is None:
            return None
        columns = found.site.before + found.site.after
        text = f"{columns} columns in all, with that stretch"
        self._claim("head and tail", text, proved and not self.refused, began, room)
        return found

    def _sites(self, most: Site) -> Iterator[Site]:
        before = 0 if self.asked.lane.beside else 1 - self.scheme.first
        after = 0 if self.asked.section is None else 1  # where the product bin stands
        pairs = [(b, a) for b in range(before, most.before + 1) for a in range(after, most.after + 1)]
        for before, after in sorted(pairs, key=lambda pair: (sum(pair), pair)):
            yield replace(most, before=before, after=after)

    def _fewest(self, found: _Found, stretch: Sequence[Part]) -> _Found:
        """The fewest parts of head and tail together, in these columns."""
        began, proved = monotonic(), False
        if self.budget.is_over:
            return found
        solver = self._with(stretch, found.site)
        ends = solver.wiring_literals(self._end_columns(found.site))
        while not self.budget.is_over:
            parts = len(columns_of(found.wiring, self._end_columns(found.site)))
            self._tell(f"{parts} parts in head and tail, one less")
            outcome, wiring = self._confirmed(solver, self.budget, [(ends, parts - 1)])
            if wiring is None:
                proved = outcome == "none exists"
                break
            found = _Found(found.site, wiring)
        solver.close()
        parts = len(columns_of(found.wiring, self._end_columns(found.site)))
        text = f"{parts} wiring parts in all, with that stretch and in these columns"
        self._claim("head and tail", text, proved and not self.refused, began, found.site)
        return found

    # -- what they share ----------------------------------------------------------------------------------------------

    def _confirmed(
        self, solver: PieceSolver, budget: Budget, bounds: Sequence[tuple[Sequence[Lit], int]] = ()
    ) -> tuple[Outcome, Sequence[Part] | None]:
        """A solution that the simulator confirms; refused ones are forbidden."""

        def accepted() -> Sequence[Part] | None:
            wiring = solver.wiring()
            pieces = self._cut(_Found(self._site_of(solver), wiring))
            if works_as_a_row(pieces, self.asked.lane, self.n, self.asked.rules, self.asked.handovers):
                return wiring
            self.refused = True
            solver.forbid(wiring)
            return None

        return solver.judged(budget.with_refusals(TRIES), bounds, accepted)

    def _question(self, site: Site) -> PieceQuestion:
        asked = self.asked
        return piece_question(asked.lane, self.scheme, asked.rules, site, self.windows, self.n, asked.end, asked.barred,
                              section=asked.section)  # fmt: skip

    def _with(self, stretch: Sequence[Part], site: Site) -> PieceSolver:
        solver = PieceSolver(self._question(site), self.asked.seed)
        for x in range(solver.asked.lead, self.n):
            solver.fix(shifted(stretch, (x, 0, 0)), (x,))
        return solver

    def _site_of(self, solver: PieceSolver) -> Site:
        width, depth, _ = solver.asked.question.grid.size
        before = -solver.asked.low[0]
        lanes = self.asked.room.lanes if self.asked.section is not None else depth - 2
        return Site(before, width - self.n - before, lanes)

    def _stretch_of(self, found: _Found) -> list[Part]:
        lead = self.lead
        return list(shifted(columns_of(found.wiring, (lead,)), (-lead, 0, 0)))

    def _end_columns(self, site: Site) -> list[int]:
        lead = self.lead
        return [*range(-site.before, lead), *range(self.n, self.n + site.after)]

    def _cut(self, found: _Found) -> RowPieces:
        site, lead = found.site, self.lead
        return RowPieces(
            face=self.asked.lane.face,
            scheme=self.scheme.name,
            lanes=site.lanes,
            before=site.before,
            after=site.after,
            lead=lead,
            head=tuple(columns_of(found.wiring, range(-site.before, lead))),
            stretch=tuple(self._stretch_of(found)),
            tail=tuple(shifted(columns_of(found.wiring, range(self.n, self.n + site.after)), (-self.n, 0, 0))),
            claims=tuple(self.claims),
            limits=limits_of(self.asked),
            beside=self.asked.lane.beside,
        )

    def _claim(self, piece: str, text: str, proved: bool, began: float, site: Site) -> None:
        what = f"{FEWEST if proved else BEST}: {text}"
        handovers = " and ".join(map(str, self.asked.handovers))
        scope = (
            f"{self.scheme.name}, straight, columns alike, rows of {self.n}, {site}, handover {handovers}, "
            f"{self.asked.spare} ticks spare for relays, "
            f"wiring of the other row apart; {SOLVER}"
        )
        self.claims.append(PieceClaim(piece, what, proved, round(monotonic() - began, 2), scope))

    def _tell(self, line: str) -> None:
        self.asked.told(f"{self.asked.lane.face} row: {line}")
