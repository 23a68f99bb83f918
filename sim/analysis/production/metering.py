"""Ticks of the kernel with meters on the furnaces, and hands that take things out (compiled).

``metered_ticks`` is ``sim.world.kernel.running.advance`` with a look at each furnace before and behind its turn; the
laws themselves stay where they stand. ``tests/test_production_engine.py`` holds it against that and against
``sim.world.world``.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from sim.world.kernel.compiling import compiled
from sim.world.kernel.items import can_fire, furnace_turn, is_cold, node_turn, touch
from sim.world.kernel.memory import Memory, notice_contents, signal_phase
from sim.world.kernel.places import (
    COUNT,
    FEED,
    FIRE,
    FIRES_TO,
    FIRST_SLOT,
    FUEL,
    FURNACE_STORE,
    FURNACES,
    IDLE,
    ITEMS,
    KIND,
    LAST_CHANGE,
    LOCKED,
    NEVER,
    NEXT_DUE,
    NODES,
    NOTHING,
    PROGRESS,
    READY,
    TICK,
    Numbers,
)

Counts = np.ndarray[Any, np.dtype[np.int64]]

PROGRESSED, NO_FEED, BLOCKED, FULL, NO_FUEL, STRETCH, LONGEST, FIRED, LIT = range(9)
"""Columns of a meter: ticks with progress; ticks without, by the reason (no feed; a feed that fires to nothing; no room
for the product; neither fire nor fuel); ticks without progress up to now and at the longest; items fired; fires lit."""
COLUMNS: Final = 9


@compiled
def why_idle(w: Numbers, s: Numbers, furnace: int) -> int:
    """The reason why a furnace makes no progress, as a column of its meter; the feed's come first."""
    feed = s[w[KIND] + w[w[FIRST_SLOT] + w[w[FURNACE_STORE] + furnace]] + FEED]
    if feed == NOTHING:
        return NO_FEED
    if w[w[FIRES_TO] + feed] == NOTHING:
        return BLOCKED
    return NO_FUEL if can_fire(w, s, furnace) else FULL


@compiled
def metered_turn(
    w: Numbers, s: Numbers, x: Numbers, m: Memory, furnace: int, meter: Counts, fired: Counts, lit: Counts
) -> bool:
    """A furnace's turn; only its own turn takes items out of its feed and fuel, so that what is missing was used."""
    first = w[w[FIRST_SLOT] + w[w[FURNACE_STORE] + furnace]]
    feed, fuel = s[w[KIND] + first + FEED], s[w[KIND] + first + FUEL]
    feeds, fuels, before = s[w[COUNT] + first + FEED], s[w[COUNT] + first + FUEL], s[w[PROGRESS] + furnace]
    changed = furnace_turn(w, s, x, m, furnace)
    if s[w[COUNT] + first + FUEL] < fuels:
        lit[fuel] += 1
        meter[LIT] += 1
    done = s[w[COUNT] + first + FEED] < feeds
    if done:
        fired[feed] += 1
        meter[FIRED] += 1
    if done or s[w[PROGRESS] + furnace] > before:
        meter[PROGRESSED] += 1
        meter[STRETCH] = 0
    else:
        rest(meter, why_idle(w, s, furnace))
    return changed


@compiled
def rest(meter: Counts, why: int) -> None:
    """One tick without progress."""
    meter[why] += 1
    meter[STRETCH] += 1
    meter[LONGEST] = max(meter[LONGEST], meter[STRETCH])


@compiled
def metered_tick(
    w: Numbers, s: Numbers, x: Numbers, m: Memory, order: Numbers, rows: Numbers, meter: Counts, fired: Counts,
    lit: Counts,
) -> None:
    """One tick, signal phase and machine phase (``running.advance``), with meters."""
    s[TICK] += 1
    tick = s[TICK]
    changed = s[NEXT_DUE] != NEVER and signal_phase(w, s, x, m)
    idle, ready, locked, nodes = w[IDLE], w[READY], w[LOCKED], w[NODES]
    for machine in order:
        if machine < nodes:
            if s[idle + machine] or s[ready + machine] > tick or s[locked + machine]:
                continue
            if node_turn(w, s, x, m, machine):
                changed = True
            continue
        furnace = machine - nodes
        row = rows[furnace]
        if s[idle + machine] or is_cold(w, s, furnace):
            s[idle + machine] = 1
            rest(meter[row], why_idle(w, s, furnace))
        elif metered_turn(w, s, x, m, furnace, meter[row], fired[row], lit[row]):
            changed = True
    if changed:
        s[LAST_CHANGE] = tick


@compiled
def metered_ticks(
    w: Numbers, s: Numbers, x: Numbers, m: Memory, order: Numbers, rows: Numbers, meter: Counts, fired: Counts,
    lit: Counts, last: int,
) -> None:
    """Every tick up to the end of tick ``last``. ``rows``: the row of the meters for each furnace of the kernel."""
    while s[TICK] < last:
        metered_tick(w, s, x, m, order, rows, meter, fired, lit)


@compiled
def take_out(w: Numbers, s: Numbers, x: Numbers, store: int) -> None:
    """Take everything out of a container from outside; ``notice_contents`` is to follow once the world has begun."""
    for slot in range(w[w[FIRST_SLOT] + store], w[w[FIRST_SLOT] + store + 1]):
        s[w[KIND] + slot] = NOTHING
        s[w[COUNT] + slot] = 0
    s[w[ITEMS] + store] = 0
    touch(w, s, x, store)


@compiled
def notice_now(w: Numbers, s: Numbers, x: Numbers, m: Memory) -> None:
    """What was changed from outside is noticed at the present tick."""
    notice_contents(w, s, x, m)


@compiled
def fires(w: Numbers, s: Numbers) -> int:
    """Furnaces that burn now."""
    burning = 0
    for furnace in range(w[FURNACES]):
        burning += int(s[w[FIRE] + furnace] > 0)
    return burning
