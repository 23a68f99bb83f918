"""Pieces of several rows at once, each in a process of its own, which can be ended at any moment."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from time import monotonic
from typing import Final

from synth.hall.lengths import with_lengths
from synth.hall.piece_request import PieceRequest
from synth.hall.piece_search import find_pieces
from synth.hall.pieces import RowPieces
from synth.solving.budget import Budget
from synth.solving.parallel.engine import Engine
from synth.solving.parallel.processes import Processes
from synth.solving.parallel.work import Slots, Tell, Work

GRACE_S: Final = 20.0
"""Seconds after the end of its budget in which a process must have answered: building models takes time, too."""
Told = Callable[[str], None]


def pieces_of(
    requests: Sequence[PieceRequest], budget: Budget, workers: int, told: Told, slots: Slots | None = None
) -> Iterator[tuple[PieceRequest, RowPieces | None]]:
    """Each request with its pieces (None: not found within the budget), in the order of the requests.

    In ``workers`` processes at a time, or in other ``slots``. Those that still run when the budget is stopped, or far
    overdrawn, are ended without an answer.
    """
    asked = [replace(one, told=nobody) for one in requests]
    with Engine(PIECES, slots or Processes(workers), told) as engine:
        results = engine.results(asked, _Stopped(budget), monotonic() + budget.left + GRACE_S)
        yield from zip(requests, results, strict=False)  # fewer, where it is stopped


def found(request: PieceRequest, seconds: float, tell: Tell) -> RowPieces | None:
    """The pieces with the lengths that they reach; lines on what is done are told."""
    asked, budget = replace(request, told=tell), Budget(seconds - GRACE_S)
    pieces = find_pieces(asked, budget)
    return None if pieces is None else with_lengths(pieces, asked, budget)


def nobody(_line: str) -> None:
    """Told, and does nothing."""


def _none(_line: object, _why: str) -> RowPieces | None:
    return None


PIECES: Final = Work(found, _none)


@dataclass(frozen=True, slots=True)
class _Stopped:
    budget: Budget

    def is_set(self) -> bool:
        return self.budget.is_stopped
