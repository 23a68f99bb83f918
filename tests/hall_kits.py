"""Pieces and halls that several tests share: undrained rows, whose pieces are solved in about a second each."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from sim.world.rulebook import default_rules
from synth.ask.hall_spec import HallSpec
from synth.ask.spec import Face
from synth.hall.kits import Kit
from synth.hall.lanes import LANES, End
from synth.hall.lengths import with_lengths
from synth.hall.piece_file import PieceFile
from synth.hall.piece_request import PieceRequest
from synth.hall.piece_search import find_pieces
from synth.hall.pieces import RowPieces
from synth.hall.spec_file import hall_from_toml
from synth.hall.wing import Wing
from synth.solving.budget import Budget

SCHEME = "undrained row"
RULES = default_rules()
AMPLE = 600.0
"""Seconds that no search here comes near."""
SPEC = """title = "Small brickyard"
[hall]
furnaces = 6
sides = 2
output = "full"
fires = "clay"
fuel = "charcoal"
labels = {fuel = "marked"}
[split]
leftovers = "hold"
scheme = "undrained row"
[items.clay]
fires_to = "brick"
"""


def request(face: Face, end: End = "tail", handovers: tuple[int, ...] = (8,), spare: int = 0) -> PieceRequest:
    """For the pieces of an undrained row."""
    return PieceRequest(LANES[face], SCHEME, RULES, handovers, end=end, spare=spare)


def solved(face: Face, end: End = "tail", handovers: tuple[int, ...] = (8,)) -> RowPieces:
    """The pieces of an undrained row, solved to the end, with the lengths of rows; once in a run of tests."""
    return _solved(face, end, handovers)


@cache
def _solved(face: Face, end: End, handovers: tuple[int, ...]) -> RowPieces:
    asked, budget = request(face, end, handovers), Budget(AMPLE)
    pieces = find_pieces(asked, budget)
    assert pieces is not None
    return with_lengths(pieces, asked, budget)


def kit(end: End = "tail") -> Kit:
    """Undrained rows above and beside."""
    return Kit(solved("top", end), solved("side", end), end)


def wing(n: int, end: End = "tail") -> Wing:
    """A wing of n, with marked bins for its fuel row."""
    both = kit(end)
    return Wing(n, both.feed, both.fuel, end, finishes={"side": "marked"})


def keep_both(file: PieceFile, end: End = "tail") -> None:
    """Put the pieces of ``kit`` into the file, as a search for a hall asks for them."""
    file.keep(request("top", end), solved("top", end))
    file.keep(request("side", end), solved("side", end))


def small_hall(furnaces: int = 6, sides: int = 2, more: str = "") -> HallSpec:
    """A spec as read: undrained rows, as fast as the kilns go."""
    return replace(hall_from_toml(SPEC + more), furnaces=furnaces, sides=sides)
