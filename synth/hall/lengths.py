"""How long a row may be that is made of pieces: its runs reach so far, relays in mid-run carry on for as long as the
scheme's windows allow."""

from __future__ import annotations

from dataclasses import replace
from time import monotonic
from typing import Final

from sim.world.parts import Part
from synth.hall.piece_question import Site, node_reach, piece_question, windows_of
from synth.hall.piece_request import PieceRequest
from synth.hall.piece_solver import PieceSolver, columns_of
from synth.hall.pieces import PieceClaim, RowPieces, shifted
from synth.hall.short_row import works_as_a_row
from synth.schemes.registry import scheme_named
from synth.solving.budget import Budget
from synth.solving.cadical import SOLVER

WIDTH_MOST: Final = 4
"""Columns of a stretch with relays that are tried."""
TRIES: Final = 10


def least_number(pieces: RowPieces) -> int:
    """The shortest row that is asked about."""
    return max(pieces.lead + 1, scheme_named(pieces.scheme).outputs_least)


def with_lengths(pieces: RowPieces, asked: PieceRequest, budget: Budget) -> RowPieces:
    """The pieces with ``reach`` and ``longest`` as the simulator has them, and relays where they help."""
    reach = _longest(pieces, asked, least_number(pieces))
    known = replace(pieces, reach=reach, longest=reach)
    if not asked.spare or not least_number(pieces) <= reach < node_reach(asked.rules):
        return known
    began, n = monotonic(), min(node_reach(asked.rules), (3 * reach) // 2)
    for lanes in range(pieces.lanes, asked.room.lanes + 1):
        for width in range(1, WIDTH_MOST + 1):
            asked.told(f"{asked.lane.face} row: {width} columns with relays, wiring lanes: {lanes}, rows of {n}")
            relay = _relay_stretch(replace(known, lanes=lanes), asked, n, width, budget)
            if relay is not None:
                return _with_relay(replace(known, lanes=lanes), asked, relay, width, began)
    return known


def _longest(pieces: RowPieces, asked: PieceRequest, least: int) -> int:
    """The last of the rows from ``least`` on that work, up to what one node can serve."""
    longest = least - 1
    for n in range(least, node_reach(asked.rules) + 1):
        if not works_as_a_row(pieces, asked.lane, n, asked.rules, asked.handovers):
            break
        longest = n
    return longest


def _relay_stretch(
    pieces: RowPieces, asked: PieceRequest, n: int, width: int, budget: Budget
) -> list[Part] | None:
    """Wiring of ``width`` columns amid a row of n, all else as the pieces have it; the fewest parts found."""
    scheme = scheme_named(pieces.scheme)
    site = Site(pieces.before, pieces.after, pieces.lanes)
    windows = windows_of(scheme, asked.rules, n, asked.handovers)
    solver = PieceSolver(
        piece_question(asked.lane, scheme, asked.rules, site, windows, n, asked.end, alike=False),
        asked.seed,
    )
    probe = replace(pieces, relay=pieces.stretch, relay_width=width, reach=-(-n // 2))
    first = probe.relays_at(n)[0]
    free = range(first, first + width)
    solver.fix(pieces.wiring(n), [x for x in range(-site.before, n + site.after) if x not in free])
    best: list[Part] | None = None

    def accepted() -> list[Part] | None:
        wiring = list(shifted(columns_of(solver.wiring(), free), (-first, 0, 0)))
        row = replace(probe, relay=tuple(wiring))
        if works_as_a_row(row, asked.lane, n, asked.rules, asked.handovers):
            return wiring
        solver.forbid(columns_of(solver.wiring(), free))
        return None

    within = budget.with_refusals(TRIES * len(pieces.stretch) * width)
    while best is None or best:
        bounds = [] if best is None else [(solver.wiring_literals(free), len(best) - 1)]
        _, fewer = solver.judged(within, bounds, accepted)
        if fewer is None:
            break
        best = fewer
    solver.close()
    return best


def _with_relay(
    pieces: RowPieces, asked: PieceRequest, relay: list[Part], width: int, began: float
) -> RowPieces:
    made = replace(pieces, relay=tuple(relay), relay_width=width)
    longest = _longest(made, asked, pieces.reach)
    claim = PieceClaim(
        "relay stretch", f"best found: {len(relay)} wiring parts in {width} columns", False,
        round(monotonic() - began, 2), f"everything else as the pieces have it; {SOLVER}",
    )  # fmt: skip
    return replace(made, longest=longest, claims=(*pieces.claims, claim))
