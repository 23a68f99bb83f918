"""The burst row (design notes, "Schemes").

T0..TN, the source bin above T0. The B nodes are locked while T0 holds something and TN is empty. A load that is there
at once fills the row one node after the other; when its end is reached every Ti holds one item, the locks open and each
Bi takes one.

What of the T nodes must not be locked, and why (on ideal locks: tests/test_synth_scheme_rows.py):

- T0 while the row is empty: nothing would ever leave the bin. T0 while it holds and TN is empty: it takes its first
  item at tick 1 and would push it a period later; locked by then (``head_window``), it never does.
- T1..T(N-1) while T0 holds and TN is empty: whatever leaves the bin would wait in the locked Ti until the bin is
  empty, and then Bi takes one of two, so that one target gets about half of a load. For N = 2 half is right; that case
  is left out of the scheme, and claims say so.
- Nothing else is needed: TN neither pulls nor pushes, and in the other rows of the table the B nodes take theirs
  whether their T is locked or not.
"""

from __future__ import annotations

from functools import cache
from typing import Final

from sim.world.layout import ItemKind, Layout
from sim.world.parts import Bin, Node, Part
from sim.world.rulebook import Rules
from sim.world.world import World
from synth.schemes.scheme import DelayWindow, LockRow, Nodes, Scheme, Watch, Which, Windows, nothing

TICKS_MOST: Final = 100_000


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


def _windows(rules: Rules, outputs: int, handover: int) -> Windows:
    """Only TN's: T0's is what bounds every chain."""
    return {"tail": tail_window(rules, outputs, handover)}


def _stages(rules: Rules) -> int:
    return head_window(rules).most


def earliest_last_arrival(rules: Rules, outputs: int, windows: Windows) -> int:
    """No layout of the scheme delivers a load of one item a target sooner, in ticks.

    While the B nodes are locked the row alone decides when T0 becomes empty and when TN gets its first item. A lock
    opens a gauge's delay after the first of the two events at the earliest (after TN's, the least delay of its window).
    A B node pulls when its lock opens and pushes a period later: no item arrives before that.
    """
    return _earliest(rules, outputs, windows["tail"].least)


@cache
def _earliest(rules: Rules, outputs: int, tail_least: int) -> int:
    head = Node((0, 0, 0), "E")
    row: list[Part] = [Bin((0, 0, 1)), head, *(Node((i, 0, 0), "E") for i in range(1, outputs + 1))]
    layout = Layout("", (outputs + 1, 1, 2), {"load": ItemKind()}, tuple(row), (), {})
    world = World(layout, rules)
    world.put([((0, 0, 1), "load", outputs)])
    seen_head, opens = False, TICKS_MOST
    while world.tick < opens:
        world.advance()
        holds = not world.stores[head.at].is_empty()
        if seen_head and not holds:
            opens = min(opens, world.tick + rules.gauge_delay)
        if not world.stores[outputs, 0, 0].is_empty():
            opens = min(opens, world.tick + max(tail_least, rules.gauge_delay))
        seen_head |= holds
    return opens + rules.period


SCHEME: Final = Scheme(
    name="burst row",
    about="the row fills up, then every B takes one; even for a load that is there at once, ends empty",
    even_for=("burst",),
    leaves="deliver",
    first=0,
    watches=(Watch("head", Nodes("T", Which.FIRST)), Watch("tail", Nodes("T", Which.LAST))),
    classes=(Nodes("T", Which.FIRST), Nodes("T", Which.INNER), Nodes("B")),
    table=(
        LockRow((False, False), (False, None, False)),
        LockRow((True, False), (False, False, True)),
        LockRow((False, True), (None, None, False)),
        LockRow((True, True), (None, None, False)),
    ),
    windows=_windows,
    stages=_stages,
    held=nothing,
    quickest=earliest_last_arrival,
    promise=10,
)
