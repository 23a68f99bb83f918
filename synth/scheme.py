"""The burst row: an item network and what its lock must do, when (design notes, "Schemes").

T0..TN push each into the next, the source bin above T0, Bi below Ti, target i where Bi's outlet leads. The B nodes are
locked while T0 holds something and TN is empty. A load that is there at once fills the row one node after the other;
when its end is reached every Ti holds one item, the locks open and each Bi takes one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sim.rulebook import Rules
from synth.model.question import DelayWindow

NAME: Final = "burst row"


@dataclass(frozen=True, slots=True)
class LockRow:
    """One row of the lock's truth table."""

    head_holds: bool
    tail_holds: bool
    locked: bool

    def holds(self, end: str) -> bool:
        """Whether the watched node at that end holds something."""
        return self.head_holds if end == "head" else self.tail_holds


LOCK_TABLE: Final = (
    LockRow(head_holds=False, tail_holds=False, locked=False),
    LockRow(head_holds=True, tail_holds=False, locked=True),
    LockRow(head_holds=False, tail_holds=True, locked=False),
    LockRow(head_holds=True, tail_holds=True, locked=False),
)


def head_window(rules: Rules) -> DelayWindow:
    """T0 takes its first item at tick t; B1 could take it from T1 at t + period at the earliest, so it must be locked
    by then."""
    return DelayWindow(0, rules.period)


def tail_window(rules: Rules, outputs: int, handover: int) -> DelayWindow:
    """When TN gets its first item at t, all T hold one; they move on at t + period, so the locks open before that.

    With a handover of ``period - s`` each node runs s ticks ahead of the one before it, and the gap in which Ti has
    passed its item on and not yet got the next ends (N - 1) s ticks after t at the latest: the locks open after that.
    The window is empty when the row is too long for that handover.
    """
    ahead = max(0, rules.period - handover)
    return DelayWindow((outputs - 1) * ahead + (1 if ahead else 0), rules.period - 1)
