"""Worlds as short rows of bytes: equal rows have equal futures.

A row holds the numbers of the signal state and of the vector of readings (``memory``), for each kept container the
number of its contents, for each node the cooldown that is left, for each furnace that can act fire and progress, and
for each output by how much it is ahead of the one of its stream that was served least. Contents are numbered once and
for all (the idea of component tables, Holzmann 1997), so that no row is ever taken for another.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np

from sim.world.kernel.compiling import compiled
from sim.world.kernel.memory import BASIS, PRIME, Memory, enter_state
from sim.world.kernel.places import (
    COUNT,
    DELIVERED,
    FIRE,
    FIRST_SLOT,
    IDLE,
    ITEMS,
    KIND,
    LIMIT,
    MACHINES,
    NEVER,
    NODES,
    NOTHING,
    OUTPUT_STREAM,
    OUTPUTS,
    PROGRESS,
    READ_STORES,
    READING,
    READY,
    SIGNAL,
    STREAMS,
    TICK,
    VECTOR,
    Numbers,
)

BYTE: Final = 255
WORD: Final = 65_535
GOOD, TOO_LARGE, FULL = range(3)
"""What packing came to: a row; a number that has no room in one; no room for more contents."""


class Contents(NamedTuple):
    """Numbered contents. ``kept``: the containers that rows tell of; ``acting``: the furnaces that can act.
    ``by_total``: one number: 1 where no more than one kind ever comes into any of them, and none is a furnace. Which
    slots hold what makes no difference then (the first that works is taken from and put into, and all that is read is
    the total and whether there is room), so contents with the same total count as the same, in the first slots.

    ``count``: how many contents there are; ``slots``: their slots, kinds then counts; ``find``: hash table of numbers.
    """

    kept: Any
    acting: Any
    by_total: Any
    count: Any
    slots: Any
    find: Any


def new_contents(
    kept: Numbers, acting: Numbers, slots_most: int, room: int = WORD, *, by_total: bool = False
) -> Contents:
    """No contents yet; room for as many as a row can tell apart, or for ``room``."""
    size = 1 << (2 * room).bit_length()
    return Contents(
        kept, acting, np.array([by_total], np.int32),
        np.zeros(1, np.int32), np.zeros((room, 2 * slots_most + 1), np.int32),
        np.full(size, NOTHING, np.int32),
    )


def row_size(w: Numbers, contents: Contents) -> int:
    """Bytes of a row."""
    return int(4 + 2 * len(contents.kept) + w[NODES] + 4 * len(contents.acting) + w[OUTPUTS])


@compiled
def number_of(w: Numbers, s: Numbers, c: Contents, store: int) -> int:
    """The number of what a container holds; NOTHING where there is no room for more."""
    first, behind = w[w[FIRST_SLOT] + store], w[w[FIRST_SLOT] + store + 1]
    slots = behind - first
    row = c.slots[c.count[0]] if c.count[0] < len(c.slots) else c.slots[len(c.slots) - 1]
    if c.count[0] >= len(c.slots):
        return NOTHING
    mixed = BASIS
    left, only = s[w[ITEMS] + store], NOTHING
    if c.by_total[0]:
        for i in range(slots):
            only = max(only, s[w[KIND] + first + i])
    for i in range(slots):
        kind, count = s[w[KIND] + first + i], s[w[COUNT] + first + i]
        if c.by_total[0]:
            count = 0 if only == NOTHING else min(left, w[w[LIMIT] + only])
            kind = only if count else NOTHING
            left -= count
        row[2 * i] = kind
        row[2 * i + 1] = count
        mixed = (((mixed ^ (kind + 1)) * PRIME) ^ count) * PRIME
    row[len(row) - 1] = slots
    size = len(c.find)
    at = (mixed ^ (mixed >> 29)) & (size - 1)
    while c.find[at] != NOTHING:
        known = c.slots[c.find[at]]
        same = known[len(known) - 1] == slots
        for i in range(2 * slots):
            if known[i] != row[i]:
                same = False
                break
        if same:
            return c.find[at]
        at = (at + 1) & (size - 1)
    c.find[at] = c.count[0]
    c.count[0] += 1
    return c.count[0] - 1


@compiled
def _word(row: np.ndarray, at: int, value: int) -> None:
    row[at] = value & BYTE
    row[at + 1] = value >> 8


@compiled
def pack(w: Numbers, s: Numbers, c: Contents, row: np.ndarray) -> int:
    """Write a world into a row. Time: linear in its slots, machines and outputs."""
    if s[SIGNAL] > WORD or s[VECTOR] > WORD:
        return TOO_LARGE
    _word(row, 0, s[SIGNAL])
    _word(row, 2, s[VECTOR])
    at = 4
    for store in c.kept:
        number = number_of(w, s, c, store)
        if number == NOTHING:
            return FULL
        _word(row, at, number)
        at += 2
    for node in range(w[NODES]):
        cooldown = max(0, s[w[READY] + node] - s[TICK])
        if cooldown > BYTE:
            return TOO_LARGE
        row[at] = cooldown
        at += 1
    for furnace in c.acting:
        fire, progress = s[w[FIRE] + furnace], s[w[PROGRESS] + furnace]
        if fire > WORD or progress > WORD:
            return TOO_LARGE
        _word(row, at, fire)
        _word(row, at + 2, progress)
        at += 4
    for stream in range(w[STREAMS]):
        least = NEVER
        for out in range(w[OUTPUTS]):
            if w[w[OUTPUT_STREAM] + out] == stream:
                least = min(least, s[w[DELIVERED] + out])
        for out in range(w[OUTPUTS]):
            if w[w[OUTPUT_STREAM] + out] == stream:
                ahead = s[w[DELIVERED] + out] - least
                if ahead > BYTE:
                    return TOO_LARGE
                row[at + out] = ahead
    return GOOD


@compiled
def unpack(w: Numbers, s: Numbers, c: Contents, m: Memory, row: np.ndarray) -> None:
    """Make a world of a row; the tick stays what it is, what was delivered is told from the least on."""
    s[VECTOR] = row[2] | (np.int32(row[3]) << 8)
    for read in range(w[READ_STORES]):
        s[w[READING] + read] = m.vectors[s[VECTOR], read]
    at = 4
    for store in c.kept:
        known = c.slots[row[at] | (np.int32(row[at + 1]) << 8)]
        first, slots = w[w[FIRST_SLOT] + store], known[len(known) - 1]
        total = 0
        for i in range(slots):
            s[w[KIND] + first + i] = known[2 * i]
            s[w[COUNT] + first + i] = known[2 * i + 1]
            total += known[2 * i + 1]
        s[w[ITEMS] + store] = total
        at += 2
    for node in range(w[NODES]):
        s[w[READY] + node] = s[TICK] + row[at]
        at += 1
    for machine in range(w[MACHINES]):
        s[w[IDLE] + machine] = 0
    for furnace in c.acting:
        s[w[FIRE] + furnace] = row[at] | (np.int32(row[at + 1]) << 8)
        s[w[PROGRESS] + furnace] = row[at + 2] | (np.int32(row[at + 3]) << 8)
        at += 4
    for out in range(w[OUTPUTS]):
        s[w[DELIVERED] + out] = row[at + out]
    enter_state(w, s, m, row[0] | (np.int32(row[1]) << 8))


@compiled
def clear(w: Numbers, s: Numbers, sources: np.ndarray) -> None:
    """Nothing in the sources."""
    for i in range(len(sources)):
        store = sources[i, 0]
        for slot in range(w[w[FIRST_SLOT] + store], w[w[FIRST_SLOT] + store + 1]):
            s[w[KIND] + slot] = NOTHING
            s[w[COUNT] + slot] = 0
        s[w[ITEMS] + store] = 0
