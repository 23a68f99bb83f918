"""The undrained row: a burst row without the gauge on T0, which keeps the last items of a load (rulebook, fact 3).

T1..TN, the source bin above T1. The B nodes are locked while TN is empty. After the first N items each B holds one;
every N more push these on and take their place. No T before TN is locked while TN is empty, else nothing would ever
come to TN.
"""

from __future__ import annotations

from typing import Final

from sim.world.rulebook import Rules
from synth.schemes.burst_row import tail_window
from synth.schemes.scheme import LockRow, Nodes, Scheme, Watch, Which, Windows, by_the_lock, one_period


def _windows(rules: Rules, outputs: int, handover: int) -> Windows:
    """The row is that of a burst row with one output less, T1 in the place of T0."""
    return {"tail": tail_window(rules, outputs - 1, handover)}


def _held(outputs: int, _rules: Rules, _stack: int) -> int:
    """One in each B."""
    return outputs


SCHEME: Final = Scheme(
    name="undrained row",
    about="the row fills up, then every B takes one; even for a load that is there at once, keeps one item in each B",
    even_for=("burst",),
    leaves="hold",
    first=1,
    watches=(Watch("tail", Nodes("T", Which.LAST)),),
    classes=(Nodes("T", Which.ALL_BUT_LAST), Nodes("B")),
    table=(LockRow((False,), (False, True)), LockRow((True,), (None, False))),
    windows=_windows,
    stages=one_period,
    held=_held,
    quickest=by_the_lock,
    promise=15,
)
