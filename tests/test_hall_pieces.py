"""The pieces of a row: fewest by a second solver, cut short without a claim, and how long the rows made of them may be.

What is claimed the least is put to CP-SAT (the search uses CaDiCaL), with the count bounded by a linear sum.
"""

from __future__ import annotations

import threading
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from hall_kits import AMPLE, RULES, SCHEME, request, solved
from sim.analysis.checks import design_findings
from sim.world.geometry import Cell
from sim.world.parts import Gauge, Inverter, Line, Part, Relay, Support
from sim.world.trial import Trial
from synth.ask.spec import Face
from synth.hall.apart import barred_beside, rows_apart
from synth.hall.lanes import FEED, FUEL, LANES, End
from synth.hall.lengths import least_number
from synth.hall.piece_crew import pieces_of
from synth.hall.piece_question import (
    ALIKE,
    PieceQuestion,
    Site,
    node_reach,
    piece_question,
    smallest_number,
    windows_of,
)
from synth.hall.piece_search import find_pieces
from synth.hall.piece_solver import PieceSolver, columns_of
from synth.hall.pieces import WIRING, PieceClaim, RowPieces, shifted
from synth.hall.short_row import short_row, works_as_a_row
from synth.model.build import model_of
from synth.model.clauses import Lit
from synth.model.vocabulary import Vocabulary
from synth.schemes.registry import scheme_named
from synth.solving.budget import Budget
from synth.solving.cp_sat import CpSat, Effort

FACES: tuple[Face, ...] = ("top", "side")
UNDRAINED = scheme_named(SCHEME)
N = smallest_number(UNDRAINED)


class StopsAfter:
    """Asks for the end after so many looks."""

    def __init__(self, looks: int) -> None:
        self.left = looks

    def is_set(self) -> bool:
        self.left -= 1
        return self.left < 0


def question(face: Face, site: Site) -> PieceQuestion:
    """As the search asks it."""
    return piece_question(LANES[face], UNDRAINED, RULES, site, windows_of(UNDRAINED, RULES, N, (8,)), N, "tail")


def wiring_of_columns(
    asked: PieceQuestion, v: Vocabulary, inside: range, others: bool = False
) -> list[tuple[Lit, int]]:
    """Each way to put wiring into a cell of these columns (or of all others), counted once. One part a cell at most."""
    return [
        (lit, 1)
        for cell, kinds in v.kind.items()
        if (asked.outside(cell)[0] in inside) is not others
        for kind, lit in kinds.items()
        if kind.name in WIRING
    ]


def stands(part: Part | None, name: str, direction: object) -> bool:
    return part is not None and part.kind == name and getattr(part, "mount", getattr(part, "output", None)) == direction


def with_the_stretch(face: Face, site: Site) -> tuple[CpSat, list[tuple[Lit, int]]]:
    """A row whose columns hold the stretch and nothing else, in CP-SAT; and the count of all other wiring."""
    asked = question(face, site)
    v = model_of(asked.question)
    columns = range(asked.lead, N)
    wanted = {part.at: part for x in columns for part in shifted(solved(face).stretch, (x, 0, 0))}
    solver = CpSat(v.clauses)
    for cell, kinds in v.kind.items():
        at = asked.outside(cell)
        for kind, lit in kinds.items():
            if at[0] in columns and kind.name in WIRING:
                solver.forbid_not([lit if stands(wanted.get(at), kind.name, kind.direction) else -lit])
    return solver, wiring_of_columns(asked, v, columns, others=True)


@pytest.mark.parametrize("face", FACES)
def test_no_stretch_has_fewer_parts_by_another_solver(face: Face) -> None:
    pieces = solved(face)
    claim = claim_of(pieces, "stretch")
    assert claim.proved
    assert claim.text.startswith("fewest (proved)")
    assert str(len(pieces.stretch)) in claim.text
    asked = question(face, Site(3, 3, pieces.lanes))
    v = model_of(asked.question)
    solver = CpSat(v.clauses)
    solver.at_most(wiring_of_columns(asked, v, range(asked.lead, asked.lead + 1)), len(pieces.stretch) - 1)
    assert solver.solve(Effort(AMPLE)).outcome == "none exists"


@pytest.mark.parametrize("face", FACES)
def test_head_and_tail_have_the_fewest_parts_by_another_solver(face: Face) -> None:
    """With that stretch, in their columns; the bound itself is met (so the stretch can be had, too)."""
    pieces = solved(face)
    fewest = len(pieces.head) + len(pieces.tail)
    assert [claim.proved for claim in pieces.claims] == [True, True, True]
    assert claim_of(pieces, "parts in all").text.startswith(f"fewest (proved): {fewest} wiring parts in all")
    outcomes = []
    for most in (fewest - 1, fewest):
        solver, ends = with_the_stretch(face, Site(pieces.before, pieces.after, pieces.lanes))
        solver.at_most(ends, most)
        outcomes.append(solver.solve(Effort(AMPLE)).outcome)
    assert outcomes == ["none exists", "found"]


def test_head_and_tail_have_the_fewest_columns_by_another_solver() -> None:
    pieces = solved("top")
    columns = pieces.before + pieces.after
    assert claim_of(pieces, "columns in all").text.startswith(f"fewest (proved): {columns} columns in all")
    for before in range(columns):
        solver, _ = with_the_stretch("top", Site(before, columns - 1 - before, pieces.lanes))
        assert solver.solve(Effort(AMPLE)).outcome == "none exists"


def claim_of(pieces: RowPieces, word: str) -> PieceClaim:
    """The one whose piece, or text, says that word."""
    named = [one for one in pieces.claims if one.piece == word]
    (claim,) = named or [one for one in pieces.claims if word in one.text]
    return claim


# -- the solver of one question ---------------------------------------------------------------------------------------


def test_columns_of_a_solution_are_alike_and_counts_are_bounded() -> None:
    solver = PieceSolver(question("top", Site(0, 2, 1)))
    column = solver.wiring_literals((1,))
    assert solver.solve(Budget(AMPLE), [(column, 1)]) == "none exists"
    assert solver.solve(Budget(AMPLE), [(column, 2)]) == "found"
    wiring = solver.wiring()
    alike = [{replace(part, at=(0, *part.at[1:])) for part in columns_of(wiring, (x,))} for x in range(1, N)]
    assert len(alike) == ALIKE
    assert alike == [alike[0]] * ALIKE
    assert len(alike[0]) == 2
    assert solver.solve(Budget(AMPLE), [(column, 1)]) == "none exists", "a bound holds for one solve, not for good"
    assert solver.solve(Budget(AMPLE), [(column, 10_000)]) == "found"
    solver.close()


def test_what_is_fixed_stands_and_nothing_else_does() -> None:
    pieces = solved("top")
    site = Site(pieces.before, pieces.after, pieces.lanes)
    solver = PieceSolver(question("top", site))
    wanted = sorted(pieces.wiring(N), key=lambda part: part.at)
    solver.fix(wanted, range(-site.before, N + site.after))
    assert solver.solve(Budget(AMPLE)) == "found"
    assert [(part.at, part.kind) for part in sorted(solver.wiring(), key=lambda part: part.at)] == [
        (part.at, part.kind) for part in wanted
    ]
    solver.close()


def test_what_is_fixed_and_cannot_work_is_refused() -> None:
    pieces = solved("top")
    site = Site(pieces.before, pieces.after, pieces.lanes)
    for without in ("line", "inverter"):
        solver = PieceSolver(question("top", site))
        solver.fix([part for part in pieces.wiring(N) if part.kind != without], range(-site.before, N + site.after))
        assert solver.solve(Budget(AMPLE)) == "none exists"
        solver.close()


def test_forbidden_wiring_does_not_come_again() -> None:
    solver = PieceSolver(question("top", Site(0, 2, 1)))
    ends = solver.wiring_literals(range(N, N + 2))
    seen: list[frozenset[Part]] = []
    while solver.solve(Budget(AMPLE), [(ends, 7)]) == "found" and len(seen) < 12:
        signals = frozenset(part for part in solver.wiring() if part.kind != "support")
        assert not any(before <= signals for before in seen)
        seen.append(signals)
        solver.forbid(solver.wiring())
    assert len(seen) > 1
    solver.close()


@pytest.mark.parametrize("budget", [Budget(0), Budget(AMPLE, StopsAfter(0))], ids=["no time", "stopped"])
def test_without_budget_nothing_is_solved(budget: Budget) -> None:
    solver = PieceSolver(question("top", Site(0, 2, 1)))
    assert solver.solve(budget) == "stopped"
    solver.close()


def test_a_share_of_a_budget_ends_with_the_whole() -> None:
    assert Budget(0).part(0.5).is_over
    assert Budget(AMPLE, StopsAfter(0)).part(0.5).is_over
    share = Budget(AMPLE).part(0.5)
    assert not share.is_over
    assert share.left <= AMPLE / 2
    assert Budget(-5).late_by >= 5
    assert Budget(AMPLE).late_by == 0


def test_barred_cells_stay_empty() -> None:
    """The line's usual place is barred: the wiring goes elsewhere, or takes more."""
    usual = {part.at for part in solved("top").wiring(N) if part.kind == "line"}
    barred = frozenset((cell, "line") for cell in usual)
    windows = windows_of(UNDRAINED, RULES, N, (8,))
    solver = PieceSolver(piece_question(FEED, UNDRAINED, RULES, Site(1, 2, 2), windows, N, "tail", barred))
    assert solver.solve(Budget(AMPLE)) == "found"
    assert not usual & {part.at for part in solver.wiring() if part.kind == "line"}
    solver.close()


def test_windows_shrink_with_handovers_and_spare_ticks() -> None:
    one = windows_of(UNDRAINED, RULES, 5, (8,))["tail"]
    both = windows_of(UNDRAINED, RULES, 5, (8, 7))["tail"]
    assert (one.least, one.most) == (0, RULES.period - 1)
    assert (both.least, both.most) == (UNDRAINED.windows(RULES, 5, 7)["tail"].least, one.most)
    spared = windows_of(UNDRAINED, RULES, 5, (8,), spare=2)["tail"]
    assert (spared.least, spared.most) == (one.least, one.most - 2)


# -- a search that is cut short ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("face", FACES)
def test_no_time_no_pieces(face: Face) -> None:
    assert find_pieces(request(face), Budget(0)) is None


def stopped_at(word: str) -> RowPieces | None:
    """What is found when the search is asked to end as soon as it tells of that."""
    stop = threading.Event()

    def told(line: str) -> None:
        if word in line:
            stop.set()

    pieces = find_pieces(replace(request("top"), told=told), Budget(AMPLE, stop))
    assert stop.is_set()
    return pieces


@pytest.mark.parametrize(("stage", "shown"), [("head of", 1), ("one less", 2)])
def test_a_search_that_is_stopped_claims_no_more_than_it_has_shown(stage: str, shown: int) -> None:
    """What is called proved is what the whole search found, too; what was still open is not."""
    pieces = stopped_at(stage)
    assert pieces is not None
    assert [claim.proved for claim in pieces.claims] == [i < shown for i in range(len(pieces.claims))]
    assert len(pieces.claims) >= shown
    for claim, of_all in zip(pieces.claims, solved("top").claims, strict=False):
        assert of_all.proved
        assert claim.proved == claim.text.startswith("fewest (proved)")
        assert claim.text == of_all.text or not claim.proved
    assert works_as_a_row(pieces, FEED, N, RULES, (8,)), "what was found works"


def test_a_search_that_is_stopped_between_two_questions_claims_nothing_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """The end is asked for while the stretch runs in the simulator: no solver is interrupted, and none is asked."""
    stop = threading.Event()

    def ended(*words: Any) -> bool:
        stop.set()
        return works_as_a_row(*words)

    monkeypatch.setattr("synth.hall.piece_search.works_as_a_row", ended)
    pieces = find_pieces(request("top"), Budget(AMPLE, stop))
    assert pieces is not None
    assert [claim.proved for claim in pieces.claims][:2] == [True, False]
    assert not any(claim.proved for claim in pieces.claims[1:])


def test_a_search_that_is_stopped_at_the_stretch_finds_nothing() -> None:
    assert stopped_at("a stretch with") is None


def test_the_same_seed_finds_the_same_and_every_stage_is_told() -> None:
    told: list[str] = []
    pieces = find_pieces(replace(request("top"), told=told.append), Budget(AMPLE))
    assert pieces is not None
    first = solved("top")
    assert (pieces.head, pieces.stretch, pieces.tail) == (first.head, first.stretch, first.tail)
    assert [(c.text, c.proved) for c in pieces.claims] == [(c.text, c.proved) for c in first.claims]
    assert told
    assert all(line.startswith("top row: ") for line in told)


def test_a_crew_finds_what_one_search_finds() -> None:
    asked = [request(face) for face in FACES]
    told: list[str] = []
    found = dict(pieces_of(asked, Budget(AMPLE), 2, told.append))
    assert set(found) == set(asked)
    for one in asked:
        expected, pieces = solved(one.lane.face), found[one]
        assert pieces is not None
        untimed = [replace(claim, seconds=0) for claim in pieces.claims]
        assert untimed == [replace(claim, seconds=0) for claim in expected.claims]
        assert replace(pieces, claims=()) == replace(expected, claims=())
    assert any(line.startswith("top row") for line in told)


def test_a_crew_that_is_stopped_gives_no_answers() -> None:
    assert list(pieces_of([request("top")], Budget(AMPLE, StopsAfter(0)), 1, lambda _: None)) == []


# -- rows of any length -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("face", "handovers"), [("top", (8,)), ("side", (8,)), ("top", (8, 7))], ids=str)
def test_rows_work_up_to_their_reach_and_no_further(face: Face, handovers: tuple[int, ...]) -> None:
    pieces = solved(face, "tail", handovers)
    least = least_number(pieces)
    works = [works_as_a_row(pieces, LANES[face], n, RULES, handovers) for n in range(least, pieces.reach + 2)]
    assert least == 2
    assert works == [True] * (pieces.reach - least + 1) + [False]
    assert pieces.longest == pieces.reach < node_reach(request(face).rules)
    assert not pieces.relays_at(pieces.reach)


def test_the_handovers_bound_the_length_by_the_windows() -> None:
    """Under a handover of 7 each node runs a tick ahead of the one before it, up to a period less one."""
    fits = [n for n in range(2, 20) if not empty(n)]
    assert solved("top", "tail", (8, 7)).reach == max(fits)


def empty(n: int) -> bool:
    window = windows_of(UNDRAINED, RULES, n, (8, 7))["tail"]
    return window.least > window.most


@pytest.mark.parametrize("face", FACES)
def test_every_column_gets_its_level_up_to_the_reach(face: Face) -> None:
    """At rest before the load every B is locked; one column more, and a line of the head is at level 0."""
    pieces = solved(face)
    for n in (2, pieces.reach):
        levels, locked = at_rest(pieces, face, n)
        assert sorted({x for x, _, _ in levels}) == list(range(n))
        assert min(levels.values()) >= 1
        assert locked == n
    levels, locked = at_rest(pieces, face, pieces.reach + 1)
    assert min(levels.values()) == 0
    assert locked < pieces.reach + 1


def at_rest(pieces: RowPieces, face: Face, n: int) -> tuple[dict[Cell, int], int]:
    """Levels of the lines along the furnaces, and how many nodes are locked, before anything is put in."""
    layout = short_row(pieces, LANES[face], n, RULES)
    result = Trial(layout, RULES).run([], ticks=1)
    lines = {p.at: result.signals[p.at] for p in layout.parts if p.kind == "line" and p.at[0] < n}
    return lines, len(result.locked)


@pytest.mark.parametrize("face", FACES)
@pytest.mark.parametrize("n", [2, 3, 7, 15])
def test_a_row_has_the_head_one_stretch_a_furnace_and_the_tail(face: Face, n: int) -> None:
    pieces = solved(face)
    wiring = list(pieces.wiring(n))
    assert len(wiring) == len(pieces.head) + (n - pieces.lead) * len(pieces.stretch) + len(pieces.tail)
    assert len({part.at for part in wiring}) == len(wiring)
    assert design_findings(short_row(pieces, LANES[face], n, RULES), RULES) == []


# -- relays in mid-run ------------------------------------------------------------------------------------------------

RELAYED = RowPieces(
    face="top", scheme=SCHEME, lanes=2, before=0, after=2, lead=1,
    head=(Support((0, -1, 2)), Line((0, -1, 3))),
    stretch=(Support((0, -1, 2)), Line((0, -1, 3))),
    tail=(
        Support((0, -1, 1)), Line((0, -1, 2)), Inverter((1, -1, 2), "N"), Support((0, 0, 2)), Support((1, 0, 2)),
        Gauge((0, 0, 3), "E"), Line((1, 0, 3)),
    ),
    relay=(
        Support((1, -2, 0)), Support((0, -2, 1)), Relay((1, -2, 1), "W", 1), Support((2, -2, 1)), Line((0, -2, 2)),
        Line((2, -2, 2)), Support((0, -1, 2)), Support((1, -1, 2)), Support((2, -1, 2)), Relay((0, -1, 3), "W", 1),
        Line((1, -1, 3)), Line((2, -1, 3)),
    ),
    relay_width=3, reach=14, longest=25,
)  # fmt: skip
"""Pieces that leave time for a relay (spare = 2 ticks), as the search found them in half a minute."""


@pytest.mark.parametrize("n", [2, 13, 14, 15, 16, 20, 24, 25])
def test_rows_with_a_relay_in_mid_run_work(n: int) -> None:
    assert works_as_a_row(RELAYED, FEED, n, RULES, (8,))
    assert len(RELAYED.relays_at(n)) == (n > RELAYED.reach)


@cache
def relay_row_levels(n: int, with_relays: bool) -> int:
    pieces = RELAYED if with_relays else replace(RELAYED, relay=())
    levels, _ = at_rest(pieces, "top", n)
    return min(levels.values())


def test_without_the_relay_the_level_runs_out() -> None:
    assert relay_row_levels(14, False) >= 1
    assert relay_row_levels(15, False) == 0
    assert all(relay_row_levels(n, True) >= 1 for n in range(15, 26))
    assert not works_as_a_row(replace(RELAYED, relay=()), FEED, 15, RULES, (8,))


@pytest.mark.parametrize("n", range(2, 60))
def test_relays_are_as_few_as_need_be_and_no_run_is_longer_than_the_reach(n: int) -> None:
    relays = RELAYED.relays_at(n)
    assert len(relays) == max(0, -(-n // RELAYED.reach) - 1)
    width = RELAYED.relay_width
    ends = [RELAYED.lead, *(x + width for x in relays)]
    begins = [*relays, n]
    assert all(end <= begin for end, begin in zip(ends, begins, strict=True)), "stretches with relays overlap"
    assert all(begin - end <= RELAYED.reach for end, begin in zip(ends, begins, strict=True))
    wiring = list(RELAYED.wiring(n))
    assert len({part.at for part in wiring}) == len(wiring)
    assert {part.at[0] for part in wiring if part.at[0] < n} == set(range(n)), "a column without wiring"


# -- two rows of a wing -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("end", ["tail", "head"])
def test_both_rows_of_a_wing_keep_apart(end: End) -> None:
    assert rows_apart(solved("top", end), solved("side", end), end, RULES)


def test_rows_whose_wiring_touches_are_not_apart() -> None:
    """A line of the fuel row's tail that runs on until it comes to the feed row's inverter."""
    feed, fuel = solved("top"), solved("side")
    stray: tuple[Part, ...] = (Support((2, 2, 1)), Line((2, 2, 2)), *(Support((2, y, 2)) for y in (1, 0, -1)),
                               *(Line((2, y, 3)) for y in (1, 0, -1)))  # fmt: skip
    assert not rows_apart(feed, replace(fuel, after=3, tail=(*fuel.tail, *stray)), "tail", RULES)


def test_beside_the_feed_row_is_barred_for_the_fuel_row() -> None:
    feed = solved("top")
    barred = barred_beside(feed, FUEL, N)
    assert barred
    assert all(cell[1] >= FUEL.y for cell, _ in barred)
    touching = {part.at for part in feed.wiring(N)}
    for cell, kind in barred:
        near = {(cell[0] + dx, cell[1] + dy, cell[2] + dz) for dx in (-1, 0, 1) for dy in (-1, 0, 1)
                for dz in (-1, 0, 1)}  # fmt: skip
        assert near & touching
        assert kind in WIRING
