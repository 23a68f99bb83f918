"""What stands in the model: nodes of other rows are never locked, bins may be energised as they like; barred kinds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.world.geometry import Cell
from sim.world.parts import Bin, Node, Part
from sim.world.rulebook import default_rules
from synth.hall.kits import repeats
from synth.hall.lanes import FEED, FUEL, Lane, product_lane, row_parts, standing
from synth.hall.piece_question import PieceQuestion, Site, piece_question, windows_of
from synth.hall.piece_solver import Budget, PieceSolver
from synth.model.question import Standing
from synth.schemes.registry import scheme_named, schemes

RULES = default_rules()
SCHEME = scheme_named("undrained row")
N = 4
BESIDE_A_LOCK: Cell = (2, -1, 1)
"""Below the support that locks B3 of a feed row: free in the rows of fewest parts."""


def asked(barred: frozenset[tuple[Cell, str]] = frozenset()) -> PieceQuestion:
    """A feed row whose columns need not be alike: something may stand in one alone."""
    windows = windows_of(SCHEME, RULES, N, (8,))
    return piece_question(FEED, SCHEME, RULES, Site(0, 2, 1), windows, N, "tail", barred, alike=False)


def with_standing(question: PieceQuestion, cell: Cell, kind: Standing) -> PieceQuestion:
    inside = cell[0] - question.low[0], cell[1] - question.low[1], cell[2]
    around = {**question.question.standing, inside: kind}
    return replace(question, question=replace(question.question, standing=around))


@pytest.fixture(scope="module")
def wiring() -> list[Part]:
    """A row's wiring with few parts, so that the cell is free."""
    solver = PieceSolver(asked())
    every = solver.wiring_literals(range(-1, N + 2))
    assert solver.solve(Budget(60), [(every, 16)]) == "found"
    found = solver.wiring()
    at = {part.at: part.kind for part in found}
    assert at[2, -1, 2] == "support"
    assert BESIDE_A_LOCK not in at
    return found


@pytest.mark.parametrize(("kind", "outcome"), [("bin", "found"), ("node", "none exists")])
def test_a_lock_must_not_reach_a_node_that_stands(wiring: list[Part], kind: Standing, outcome: str) -> None:
    solver = PieceSolver(with_standing(asked(), BESIDE_A_LOCK, kind))
    solver.fix(wiring, range(-1, N + 2))
    assert solver.solve(Budget(60)) == outcome


def test_without_anything_there_the_wiring_is_as_good(wiring: list[Part]) -> None:
    solver = PieceSolver(asked())
    solver.fix(wiring, range(-1, N + 2))
    assert solver.solve(Budget(60)) == "found"


def test_a_kind_that_is_barred_does_not_stand_there(wiring: list[Part]) -> None:
    part = next(part for part in wiring if part.kind == "line")
    solver = PieceSolver(asked(frozenset({(part.at, "line")})))
    solver.fix(wiring, range(-1, N + 2))
    assert solver.solve(Budget(60)) == "none exists"
    other = PieceSolver(asked(frozenset({(part.at, "gauge")})))
    other.fix(wiring, range(-1, N + 2))
    assert other.solve(Budget(60)) == "found"


@pytest.mark.parametrize(("lane", "other"), [(FEED, FUEL), (FUEL, FEED)], ids=("feed", "fuel"))
@pytest.mark.parametrize("end", ["head", "tail"])
def test_all_of_the_other_row_stands_and_all_of_the_product_lane(lane: Lane, other: Lane, end: str) -> None:
    """Whatever scheme the other row is of, of those that halls have."""
    assert end in ("head", "tail")
    stands = dict(standing(lane, N, "head" if end == "head" else "tail", 3))
    for scheme in filter(repeats, schemes().values()):
        for part in row_parts(other, scheme, N):
            assert stands[part.at] == ("bin" if isinstance(part, Bin) else "node"), part
            assert isinstance(part, (Bin, Node))
    for cell in product_lane("head" if end == "head" else "tail", N, 3):
        assert stands[cell] == "node"
