"""The earliest that the last item can arrive: a lower bound on latency from the row alone."""

from __future__ import annotations

from functools import cache
from typing import Final

from sim.layout import ItemKind, Layout
from sim.parts import Bin, Node, Part
from sim.rulebook import Rules
from sim.world import World
from synth.model.question import DelayWindow

TICKS_MOST: Final = 100_000


@cache
def earliest_last_arrival(rules: Rules, outputs: int, window: DelayWindow) -> int:
    """No layout of the scheme delivers a load of one item a target sooner, in ticks.

    While the B nodes are locked the row alone decides when T0 becomes empty and when TN gets its first item. A lock
    opens a gauge's delay after the first of the two events at the earliest (after TN's, the least delay of ``window``).
    A B node pulls when its lock opens and pushes a period later: no item arrives before that.
    """
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
            opens = min(opens, world.tick + max(window.least, rules.gauge_delay))
        seen_head |= holds
    return opens + rules.period
