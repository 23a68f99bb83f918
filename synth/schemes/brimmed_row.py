"""The brimmed row (design notes, "Schemes"), here without T0: the bin stands above T1.

Every T starts full but for one item. The row fills from the far end, so T1 is full only when all are. A gauge on T1
passes a full reading alone and unlocks all B nodes at once; each takes one item, T1 is not full any more, and the locks
close again before a B could take another.

What of the T nodes must not be locked, on ideal locks (tests/test_synth_scheme_rows.py): T1 while it is not full, for
then it would take nothing from the bin; T2 to T(N-2) while T1 is not full, for each time that it is they can pass on
one item, and those behind them need more. Nothing else is needed: T(N-1) may wait until T1 is full, then pass one on.
"""

from __future__ import annotations

from typing import Final

from sim.world.rulebook import Rules
from synth.schemes.scheme import (
    DelayWindow,
    LockRow,
    Nodes,
    Scheme,
    Watch,
    Which,
    Windows,
    by_the_lock,
    one_period,
)


def _windows(rules: Rules, _outputs: int, _handover: int) -> Windows:
    """While T1 is full nothing moves, so the locks may open at any time; B1 takes its item d ticks after T1 is full,
    the locks close d ticks after that, and a period after its pull B1 would take another."""
    return {"brim": DelayWindow(0, rules.period)}


def _held(outputs: int, _rules: Rules, _stack: int) -> int:
    """One in each B, and in the T as many as there is room for but one."""
    return 2 * outputs - 1


SCHEME: Final = Scheme(
    name="brimmed row",
    about="nodes start full, the row brims over when N items have come; even for any stream, keeps up to 2N - 1 items",
    even_for=("burst", "stream"),
    leaves="hold",
    first=1,
    watches=(Watch("brim", Nodes("T", Which.FIRST)),),
    classes=(Nodes("T", Which.FIRST), Nodes("T", Which.INNER_BUT_ONE), Nodes("B")),
    table=(LockRow((False,), (False, False, True)), LockRow((True,), (None, None, False))),
    windows=_windows,
    stages=one_period,
    held=_held,
    quickest=by_the_lock,
    promise=30,
    reads_full=True,
    brimmed=True,
)
