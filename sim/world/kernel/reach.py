"""All states that a layout can come into, whatever arrives when: breadth-first search, tick by tick.

At the end of a tick the world is a row (``packing``). Two things can be done before the next tick: put nothing in, or
put one item into the source of each of some streams, where its first node takes it in that very tick. No other arrivals
need be looked at: an item that waits in the bin is one that might have come later. So the sources are empty in every
row. Kept in order of discovery, rows are in order of ticks, and the way back to the first one is a shortest one.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np

from sim.world.kernel.compiling import compiled
from sim.world.kernel.memory import BASIS, FLUSHES, PRIME, Memory, notice_contents
from sim.world.kernel.packing import GOOD, Contents, clear, pack, unpack
from sim.world.kernel.packing import TOO_LARGE as NO_BYTE
from sim.world.kernel.places import (
    DELIVERED,
    ITEMS,
    NOTHING,
    OUTPUT_STREAM,
    OUTPUTS,
    READY,
    STREAMS,
    TICK,
    Numbers,
)
from sim.world.kernel.running import advance, load_now, load_unnoticed

DONE, MORE, NO_ROOM, UNEVEN, TOO_LARGE, TOO_MANY_CONTENTS, TOO_MANY_SIGNALS = range(7)
"""How a piece of a search ended: nothing left; budget used; no room for more rows; a row that is uneven at rest; a
number that has no room in a row; no room for more contents, or for more signal states."""
AT_TICK: Final = 1_000
"""The tick that every row is looked at in: any one will do that leaves room for ticks before it."""


class Explored(NamedTuple):
    """What has been found. ``rows`` and of each: the row it was found from times the choices there are, plus the choice
    (``parent``); the row that follows when nothing arrives (``quiet``). ``find``: hash table of row numbers.

    ``counts``: rows; rows whose successors are known; transitions; the row that is uneven at rest; how many rows are at
    rest, and the largest spread of any of them.
    """

    rows: Any
    parent: Any
    quiet: Any
    find: Any
    counts: Any


ROWS, EXPANDED, EDGES, FOUND, RESTS, SPREAD = range(6)


def new_explored(row_bytes: int, room: int) -> Explored:
    """Nothing found yet, with room for so many rows."""
    return Explored(
        np.zeros((room, row_bytes), np.uint8),
        np.zeros(room, np.int64),
        np.full(room, NOTHING, np.int32),
        np.full(1 << (2 * room - 1).bit_length(), NOTHING, np.int32),
        np.zeros(6, np.int64),
    )


def grown(e: Explored, room: int) -> Explored:
    """The same with room for more rows. Time: linear in the rows."""
    larger = new_explored(e.rows.shape[1], room)
    known = int(e.counts[ROWS])
    larger.rows[:known], larger.parent[:known] = e.rows[:known], e.parent[:known]
    larger.quiet[:known], larger.counts[:] = e.quiet[:known], e.counts
    _index(larger, known)
    return larger


@compiled
def _hash(row: np.ndarray) -> int:
    mixed = BASIS
    for byte in row:
        mixed = (mixed ^ byte) * PRIME
    return mixed ^ (mixed >> 29)


@compiled
def _index(e: Explored, known: int) -> None:
    size = len(e.find)
    for number in range(known):
        at = _hash(e.rows[number]) & (size - 1)
        while e.find[at] != NOTHING:
            at = (at + 1) & (size - 1)
        e.find[at] = number


@compiled
def _number(e: Explored) -> int:
    """The number of the row that stands behind the last one; it becomes the last one if it is new."""
    row = e.rows[e.counts[ROWS]]
    size = len(e.find)
    at = _hash(row) & (size - 1)
    while e.find[at] != NOTHING:
        known = e.rows[e.find[at]]
        same = True
        for i in range(len(row)):
            if known[i] != row[i]:
                same = False
                break
        if same:
            return e.find[at]
        at = (at + 1) & (size - 1)
    e.find[at] = e.counts[ROWS]
    e.counts[ROWS] += 1
    return e.counts[ROWS] - 1


@compiled
def begin(w: Numbers, s: Numbers, c: Contents, e: Explored) -> int:
    """The first row: the world as it stands at tick 0, started."""
    if pack(w, s, c, e.rows[0]) != GOOD:
        return TOO_LARGE
    e.parent[0] = NOTHING
    _number(e)
    return MORE


@compiled
def spread_of(w: Numbers, row: np.ndarray) -> int:
    """The largest spread of any stream: how far the output ahead is ahead of the one served least."""
    most = 0
    for out in range(w[OUTPUTS]):
        most = max(most, row[len(row) - w[OUTPUTS] + out])
    return most


@compiled
def is_uneven(w: Numbers, row: np.ndarray) -> bool:
    """By the figures at the end of a row: some stream's spread is above 0, or above 1 where the number delivered is
    no multiple of its outputs."""
    base = len(row) - w[OUTPUTS]
    for stream in range(w[STREAMS]):
        most, total, outputs = 0, 0, 0
        for out in range(w[OUTPUTS]):
            if w[w[OUTPUT_STREAM] + out] == stream:
                most = max(most, row[base + out])
                total += row[base + out]
                outputs += 1
        if most > (1 if outputs and total % outputs else 0):
            return True
    return False


@compiled
def explore(
    w: Numbers, s: Numbers, x: Numbers, m: Memory, c: Contents, e: Explored, order: Numbers, sources: np.ndarray,
    most: int, budget: int,
) -> int:
    """Expand at most ``budget`` rows. ``sources``: of each stream its source, item kind and first node. ``most``:
    items that the containers that rows tell of may hold; nothing is put in where there are so many.

    Time and memory: linear in the rows, times the choices of arrivals.
    """
    choices = 1 << len(sources)
    for _ in range(budget):
        number = e.counts[EXPANDED]
        if number == e.counts[ROWS]:
            return DONE
        if e.counts[ROWS] + choices > len(e.rows):
            return NO_ROOM
        for choice in range(choices):
            s[TICK] = AT_TICK
            clear(w, s, sources)
            unpack(w, s, c, m, e.rows[number])
            if choice and held(w, s, c) >= most:
                continue
            if not _arrive(w, s, x, m, sources, choice):
                continue
            advance(w, s, x, m, order)
            if m.counts[FLUSHES]:  # rows tell of signal states by numbers that hold until then
                return TOO_MANY_SIGNALS
            if _waits(w, s, sources):
                continue
            packed = pack(w, s, c, e.rows[e.counts[ROWS]])
            if packed != GOOD:
                return TOO_LARGE if packed == NO_BYTE else TOO_MANY_CONTENTS
            before = e.counts[ROWS]
            after = _number(e)
            e.counts[EDGES] += 1
            if after == before:
                e.parent[after] = number * choices + choice
            if choice == 0:
                e.quiet[number] = after
                if after == number:
                    e.counts[RESTS] += 1
                    e.counts[SPREAD] = max(e.counts[SPREAD], spread_of(w, e.rows[number]))
                    if is_uneven(w, e.rows[number]):
                        e.counts[FOUND] = number
                        return UNEVEN
        e.counts[EXPANDED] += 1
    return MORE


@compiled
def held(w: Numbers, s: Numbers, c: Contents) -> int:
    """Items in the containers that rows tell of."""
    total = 0
    for container in c.kept:
        total += s[w[ITEMS] + container]
    return total


@compiled
def _arrive(w: Numbers, s: Numbers, x: Numbers, m: Memory, sources: np.ndarray, choice: int) -> bool:
    """Put in what is chosen; False where a first node is still cooling down in the next tick."""
    for i in range(len(sources)):
        if choice >> i & 1 and s[w[READY] + sources[i, 2]] > s[TICK] + 1:
            return False
    for i in range(len(sources)):
        if choice >> i & 1:
            load_unnoticed(w, s, x, sources[i, 0], sources[i, 1], 1)
    notice_contents(w, s, x, m)
    return True


@compiled
def _waits(w: Numbers, s: Numbers, sources: np.ndarray) -> bool:
    """An item that was put in was not taken in the tick."""
    for i in range(len(sources)):  # noqa: SIM110 (compiled)
        if s[w[ITEMS] + sources[i, 0]] > 0:
            return True
    return False


@compiled
def most_held(
    w: Numbers, s: Numbers, c: Contents, m: Memory, e: Explored, sources: np.ndarray
) -> int:
    """The most items that the containers hold in any row at rest whose successors are known.

    Time: linear in the rows.
    """
    most = 0
    for number in range(e.counts[EXPANDED]):
        if e.quiet[number] == number:
            s[TICK] = AT_TICK
            clear(w, s, sources)
            unpack(w, s, c, m, e.rows[number])
            most = max(most, held(w, s, c))
    return most


@compiled
def never_rests(e: Explored, marks: np.ndarray) -> int:
    """The first row from which, though nothing arrives, no rest is reached; NOTHING if there is none.

    ``marks``: a zero for each row. Each row has one quiet successor, so that a walk along them ends in a cycle; a cycle
    of one row is rest. Time: linear in the rows.
    """
    for begin_at in range(e.counts[ROWS]):
        at = begin_at
        while marks[at] == 0:
            marks[at] = begin_at + 1
            at = e.quiet[at]
        if marks[at] == begin_at + 1 and e.quiet[at] != at:
            return begin_at
    return NOTHING


@compiled
def steady_flow(
    w: Numbers, s: Numbers, x: Numbers, m: Memory, c: Contents, e: Explored, order: Numbers, sources: np.ndarray,
    ticks: Numbers, delivered: Numbers, totals: Numbers, result: Numbers,
) -> int:
    """Run with sources that are never empty, until a state repeats. DONE; or another code if none does in the room.

    ``ticks``, ``delivered``: of each state its tick and the items delivered by then, by stream; ``totals``: a zero for
    each stream. ``result``: ticks of the cycle, then for each stream the items delivered in it.
    """
    while e.counts[ROWS] < len(e.rows):
        for i in range(len(sources)):
            if s[w[ITEMS] + sources[i, 0]] == 0:
                load_now(w, s, x, m, sources[i, 0], sources[i, 1], 1)
        advance(w, s, x, m, order)
        if m.counts[FLUSHES]:
            return TOO_MANY_SIGNALS
        for out in range(w[OUTPUTS]):  # the flow may repeat itself though the outputs drift apart
            totals[w[w[OUTPUT_STREAM] + out]] += s[w[DELIVERED] + out]
            s[w[DELIVERED] + out] = 0
        if pack(w, s, c, e.rows[e.counts[ROWS]]) != GOOD:
            return TOO_LARGE
        before = e.counts[ROWS]
        number = _number(e)
        new = number == before
        if new:
            ticks[number] = s[TICK]
        else:
            result[0] = s[TICK] - ticks[number]
        for i in range(len(sources)):
            if new:
                delivered[number * len(sources) + i] = totals[i]
            else:
                result[1 + i] = totals[i] - delivered[number * len(sources) + i]
        if not new:
            return DONE
    return NO_ROOM
