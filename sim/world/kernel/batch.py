"""Many runs in one call. ``sources``: a row for each stream: its source's container, its item's kind, the node below.

A *result* is a row: at rest or not, tick of the last change, items in nodes, overheated or not, then what was delivered
to each output.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from sim.world.kernel.compiling import compiled
from sim.world.kernel.memory import FLUSHES, Memory, notice_contents
from sim.world.kernel.packing import Contents, clear, unpack
from sim.world.kernel.places import (
    DELIVERED,
    FIRE,
    FURNACES,
    ITEMS,
    LAST_CHANGE,
    NEVER,
    NODE_STORE,
    NODES,
    NOTHING,
    OUTPUTS,
    OVERHEATED,
    PARTS,
    PROGRESS,
    READY,
    TICK,
    Numbers,
)
from sim.world.kernel.running import AT_REST, load, load_unnoticed, next_event, pass_to, run_to, start

RESTED, LAST, HELD, OVERHEATS, FIRST_OUTPUT = range(5)
"""The columns of a result."""
EMPTIED: Final = -1
"""Of ``one_gap``: the memory of signal states was emptied."""
FULL: Final = -2
"""Of ``one_gap``: an item found no room in its source."""
NO_ROOM: Final = -1
"""Instead of RESTED: a load found no room in its source."""


@compiled
def held_in_nodes(w: Numbers, s: Numbers) -> int:
    """Items in nodes, of whatever kind."""
    total = 0
    for node in range(w[NODES]):
        total += s[w[ITEMS] + w[w[NODE_STORE] + node]]
    return total


@compiled
def has_overheated(w: Numbers, s: Numbers) -> bool:
    """Some inverter has been found to overheat."""
    for part in range(w[PARTS]):  # noqa: SIM110 (compiled)
        if s[w[OVERHEATED] + part] != NOTHING:
            return True
    return False


@compiled
def copy_state(begin: Numbers, s: Numbers) -> None:
    """Let a world stand where another one stands."""
    for i in range(len(begin)):
        s[i] = begin[i]


@compiled
def tell(w: Numbers, s: Numbers, rested: int, result: np.ndarray) -> None:
    """Write down what a run came to."""
    result[RESTED] = rested
    result[LAST] = s[LAST_CHANGE]
    result[HELD] = held_in_nodes(w, s)
    result[OVERHEATS] = int(has_overheated(w, s))
    for out in range(w[OUTPUTS]):
        result[FIRST_OUTPUT + out] = s[w[DELIVERED] + out]


@compiled
def cool_down(w: Numbers, s: Numbers, x: Numbers, m: Memory) -> None:
    """From rest on, let every cooldown end: locked nodes have theirs still running."""
    last = s[TICK]
    for node in range(w[NODES]):
        last = max(last, s[w[READY] + node])
    pass_to(w, s, x, m, last)


@compiled
def run_load(
    w: Numbers, s: Numbers, x: Numbers, m: Memory, order: Numbers, sources: np.ndarray, counts: Numbers, first: bool,
    limit: int,
) -> int:
    """A load of every stream, before tick 1 (``first``) or at rest; run to rest, every cooldown over.

    AT_REST; STOPPED when it takes more than ``limit`` ticks; NO_ROOM.
    """
    for k in range(len(sources)):
        if first:
            done = load(w, s, sources[k, 0], sources[k, 1], counts[k])
        else:
            done = load_unnoticed(w, s, x, sources[k, 0], sources[k, 1], counts[k])
        if done < counts[k]:
            return NO_ROOM
    if first:
        start(w, s, m)
    else:
        notice_contents(w, s, x, m)
    rested = run_to(w, s, x, m, order, s[TICK] + limit)
    if rested == AT_REST:
        cool_down(w, s, x, m)
    return rested


@compiled
def run_loads(
    w: Numbers, s: Numbers, x: Numbers, m: Memory, order: Numbers, sources: np.ndarray, loads: np.ndarray, limit: int,
    results: np.ndarray,
) -> int:
    """From before tick 1: each load (a row, items of each stream) is put in when the one before has come to rest.

    A result after each load; after one that does not come to rest there are no more, and theirs say the same.
    """
    rested = AT_REST
    for i in range(len(loads)):
        if rested == AT_REST:
            rested = run_load(w, s, x, m, order, sources, loads[i], i == 0, limit)
        tell(w, s, rested, results[i])
    return rested


@compiled
def each_load(
    w: Numbers, begin: Numbers, s: Numbers, x: Numbers, m: Memory, order: Numbers, sources: np.ndarray,
    loads: np.ndarray, limit: int, results: np.ndarray,
) -> None:
    """Each load alone, from the same start."""
    for case in range(len(loads)):
        copy_state(begin, s)
        run_loads(w, s, x, m, order, sources, loads[case : case + 1], limit, results[case : case + 1])


@compiled
def run_orders(
    w: Numbers, begin: Numbers, s: Numbers, x: Numbers, m: Memory, orders: np.ndarray, sources: np.ndarray,
    loads: np.ndarray, limit: int, results: np.ndarray,
) -> None:
    """The loads one after another, in each update order (the rows of ``orders``); a result after each load."""
    for case in range(len(orders)):
        copy_state(begin, s)
        first = case * len(loads)
        run_loads(w, s, x, m, orders[case], sources, loads, limit, results[first : first + len(loads)])


@compiled
def run_arrivals(
    w: Numbers, s: Numbers, x: Numbers, m: Memory, order: Numbers, sources: np.ndarray, arrivals: np.ndarray,
    limit: int,
) -> int:
    """From before tick 1: arrivals (rows of tick, stream, items, ticks ascending), then to rest; as ``run_loads``."""
    at = 0
    while at < len(arrivals) and arrivals[at, 0] == 0:
        k = arrivals[at, 1]
        if load(w, s, sources[k, 0], sources[k, 1], arrivals[at, 2]) < arrivals[at, 2]:
            return NO_ROOM
        at += 1
    start(w, s, m)
    while at < len(arrivals):
        if run_to(w, s, x, m, order, arrivals[at, 0]) == AT_REST and s[TICK] < arrivals[at, 0]:
            pass_to(w, s, x, m, arrivals[at, 0])
        tick = arrivals[at, 0]
        while at < len(arrivals) and arrivals[at, 0] == tick:
            k = arrivals[at, 1]
            if load_unnoticed(w, s, x, sources[k, 0], sources[k, 1], arrivals[at, 2]) < arrivals[at, 2]:
                return NO_ROOM
            at += 1
        notice_contents(w, s, x, m)
    return run_to(w, s, x, m, order, s[TICK] + limit)


@compiled
def each_arrivals(
    w: Numbers, begin: Numbers, s: Numbers, x: Numbers, m: Memory, order: Numbers, sources: np.ndarray,
    arrivals: np.ndarray, firsts: Numbers, limit: int, results: np.ndarray,
) -> None:
    """Each pattern of arrivals alone: pattern i is rows ``firsts[i]`` to ``firsts[i + 1]``."""
    for case in range(len(firsts) - 1):
        copy_state(begin, s)
        rested = run_arrivals(w, s, x, m, order, sources, arrivals[firsts[case] : firsts[case + 1]], limit)
        tell(w, s, rested, results[case])


@compiled
def is_settled(w: Numbers, s: Numbers) -> bool:
    """At rest, every cooldown over, and no furnace burning or cooling down: time alone changes nothing any more."""
    if next_event(w, s) != NEVER:
        return False
    for furnace in range(w[FURNACES]):
        if s[w[FIRE] + furnace] or s[w[PROGRESS] + furnace]:
            return False
    for node in range(w[NODES]):  # noqa: SIM110 (compiled)
        if s[w[READY] + node] > s[TICK]:
            return False
    return True


@compiled
def one_gap(
    w: Numbers, begin: Numbers, s: Numbers, other: Numbers, x: Numbers, m: Memory, order: Numbers,
    sources: np.ndarray, gap: int, rounds: int, per_round: int, limit: int, results: np.ndarray,
) -> int:
    """One item of each stream before tick 1, then one after each ``gap`` ticks. After every ``per_round`` items, for
    so many rounds, the world is copied and runs to rest without more: a result a round.

    1 if the world had settled before each arrival but the first, so that larger gaps come to the same; 0 if not;
    EMPTIED when the memory of signal states was emptied, so that the copied world lost its meaning; FULL.
    """
    copy_state(begin, s)
    flushes = m.counts[FLUSHES]
    settled, done, count = True, 0, 0
    while done < rounds:
        if count:
            if run_to(w, s, x, m, order, count * gap) == AT_REST and s[TICK] < count * gap:
                pass_to(w, s, x, m, count * gap)
            settled = settled and is_settled(w, s)
        for k in range(len(sources)):
            if count:
                entered = load_unnoticed(w, s, x, sources[k, 0], sources[k, 1], 1)
            else:
                entered = load(w, s, sources[k, 0], sources[k, 1], 1)
            if not entered:
                return FULL
        if count:
            notice_contents(w, s, x, m)
        else:
            start(w, s, m)
        count += 1
        if count % per_round == 0:
            copy_state(s, other)
            rested = run_to(w, other, x, m, order, other[TICK] + limit)
            if m.counts[FLUSHES] != flushes:
                return EMPTIED
            tell(w, other, rested, results[done])
            done += 1
    return int(settled)


@compiled
def run_next_load(
    w: Numbers, s: Numbers, x: Numbers, m: Memory, c: Contents, row: np.ndarray, order: Numbers, sources: np.ndarray,
    counts: Numbers, limit: int,
) -> int:
    """From a state at rest, as a row: a load of every stream, run to rest, every cooldown over; as ``run_loads``."""
    clear(w, s, sources)
    unpack(w, s, c, m, row)
    return run_load(w, s, x, m, order, sources, counts, False, limit)
