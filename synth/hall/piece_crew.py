"""Pieces of several rows at once, each in a process of its own, which can be ended at any moment."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from multiprocessing.connection import wait
from typing import Final

from synth.budget import Budget
from synth.child_process import Child
from synth.hall.piece_request import PieceRequest
from synth.hall.pieces import RowPieces

POLL_S: Final = 0.1
GRACE_S: Final = 20.0
"""Seconds after the end of its budget in which a process must have answered: building models takes time, too."""
Told = Callable[[str], None]


def pieces_of(
    requests: Sequence[PieceRequest], budget: Budget, workers: int, told: Told
) -> Iterator[tuple[PieceRequest, RowPieces | None]]:
    """Each request with its pieces (None: not found within the budget), in the order in which they come.

    At most ``workers`` processes at a time. Those that still run when the budget is stopped, or far overdrawn, are
    ended without an answer.
    """
    waiting, hands = list(requests), list[_Hand]()
    try:
        while waiting or hands:
            while waiting and len(hands) < workers:
                hands.append(_Hand.at_work(waiting.pop(0), budget.left))
            ready = wait([hand.child.answers for hand in hands], POLL_S)
            for hand in [hand for hand in hands if hand.child.answers in ready]:
                word = hand.word()
                if isinstance(word, str):
                    told(word)
                else:
                    hands.remove(hand)
                    hand.child.kill()
                    yield hand.request, word
            if budget.is_stopped or budget.late_by > GRACE_S:
                return
    finally:
        for hand in hands:
            hand.child.kill()


@dataclass(frozen=True, slots=True, eq=False)
class _Hand:
    """One process at work."""

    request: PieceRequest
    child: Child

    @classmethod
    def at_work(cls, request: PieceRequest, seconds: float) -> _Hand:
        """A new process with that request, which may take so many seconds."""
        child = Child.running("synth.hall.piece_worker")
        child.jobs.send((replace(request, told=nobody), seconds))
        return cls(request, child)

    def word(self) -> str | RowPieces | None:
        """What the process says next: a line on what it does, or its answer. None, too, if it was killed (for want of
        memory). Raises RuntimeError where it failed."""
        try:
            said: str | RowPieces | RuntimeError | None = self.child.answers.recv()
        except EOFError:
            return None
        if isinstance(said, RuntimeError):
            raise said
        return said


def nobody(_line: str) -> None:
    """Told, and does nothing."""
