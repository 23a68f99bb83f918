"""The muster row: every B but the last waits, with its one item, for the last to get one too.

T1..TN, the source bin above T1. Bi, for i < N, is locked while it holds something and BN is empty:
an empty one takes the first item that passes, and lets the others pass. The item that finds all holding comes to BN,
which is never locked; for the one period that BN holds it the others are unlocked, and each pushes its item on. So
items leave N at a time, whenever they come; and as no more than one is in each B, all leave.

What of the T nodes must not be locked, on ideal locks (tests/test_synth_scheme_rows.py): any before TN while its B
holds and BN is empty, for no item could come past it; T1 also while both are empty, for it would take nothing from the
bin. Nothing else is needed: while BN holds they may wait, and a B takes its item from a locked T too.
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
    by_the_source,
    nothing,
    one_period,
)

LAST_OPENS: Final = 2
"""Ticks before the end of a period by which BN's gauge must have opened the locks, so that each B pushes while BN
holds (on ideal locks: tests/test_synth_schemes.py)."""
LONG: Final = 4
"""Outputs from which an item that runs ahead of the period can slip past a B that was released too soon (found by
trial on ideal locks, 20,000 random update orders and arrivals for N = 3, 4, 5; not derived)."""


def windows(rules: Rules, outputs: int, handover: int) -> Windows:
    """Bi takes its item at tick t and could push it at t + period: locked by then. BN holds its item for a period: the
    locks open well within it; in long rows, with a handover s ticks shorter than the period, not before 2 s + 1."""
    ahead = max(0, rules.period - handover)
    soonest = 2 * ahead + 1 if ahead and outputs >= LONG else 0
    return {"own": DelayWindow(0, rules.period), "tail": DelayWindow(soonest, rules.period - LAST_OPENS)}


OWN: Final = Watch("own", Nodes("B", Which.ALL_BUT_LAST), apart=True)
TAIL: Final = Watch("tail", Nodes("B", Which.LAST))

SCHEME: Final = Scheme(
    name="muster row",
    about="each B waits with its item until the last has one too; even for any stream, ends empty, nothing to fill in",
    even_for=("burst", "stream"),
    leaves="deliver",
    first=1,
    watches=(OWN, TAIL),
    classes=(
        Nodes("T", Which.FIRST),
        Nodes("T", Which.INNER),
        Nodes("B", Which.ALL_BUT_LAST),
        Nodes("B", Which.LAST),
    ),
    table=(
        LockRow((False, False), (False, None, False, False)),
        LockRow((True, False), (False, False, True, False)),
        LockRow((False, True), (None, None, False, False)),
        LockRow((True, True), (None, None, False, False)),
    ),
    windows=windows,
    stages=one_period,
    held=nothing,
    quickest=by_the_source,
    promise=20,
    outputs_least=2,
)
