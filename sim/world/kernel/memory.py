"""A memory of signal states: what the signals do next is worked out once for each state, then looked up.

A *signal state* is what every signal part delivers and what is pending, in order, with the ticks still to go. It and
the *vector* of readings of the containers that gauges read decide what the signals do in the next tick and what a
change of a reading brings about: a finite machine, built as it is met (memoisation, Michie 1968). A run of a row meets
some dozens of signal states again and again.

Numbers of signal states and vectors hold until the memory is full; then it is emptied and ``FLUSHES`` counts up.
Look-ups: constant time in the mean (open addressing with linear probing, Knuth 1973).
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np

from sim.world.kernel.compiling import compiled
from sim.world.kernel.places import (
    DUE,
    ENERGISED,
    GAUGES_OF_READ,
    INVERTER_NUMBER,
    LEVEL,
    LINES,
    LOCKED,
    MARKED_PARTS,
    MARKED_READS,
    NEVER,
    NEXT_DUE,
    NODES,
    NOTHING,
    OUT,
    PART_LIST,
    PART_MARK,
    PARTS,
    PENDING,
    QUEUE,
    READ_LIST,
    READ_MARK,
    READ_STORE,
    READ_STORES,
    READING,
    SIGNAL,
    SIGNAL_SIZE,
    SOLIDS,
    STRONG,
    SWITCH_OFF_COUNT,
    SWITCHED_OFF,
    TICK,
    VECTOR,
    Numbers,
)
from sim.world.kernel.signals import fill_level, mark_row, notice_marked, record_switch_off, run_due

STATES, VECTORS, TRANSITIONS, FLUSHES = range(4)
VECTORS_MOST: Final = 4096
MASK_BITS: Final = 62
"""Inverters whose switching off a kept transition can tell."""
PRIME: Final = 1_099_511_628_211
BASIS: Final = 1_469_598_103_934_665_603


class Memory(NamedTuple):
    """What is known of one layout's signals. ``counts``: signal states, vectors, transitions kept; times emptied.

    ``states``: a row for each signal state; ``find_state``, ``find_transition``: hash tables of numbers, NOTHING where
    empty. ``keys``, ``after``, ``offs``: of each transition its key, twice the signal state behind it (plus one if a
    part changed), and which inverters switched off, a bit each.
    """

    counts: Any
    states: Any
    find_state: Any
    vectors: Any
    find_transition: Any
    keys: Any
    after: Any
    offs: Any


def new_memory(w: Numbers, states: int = 1 << 12) -> Memory:
    """An empty memory with room for so many signal states (a power of two)."""
    transitions = 4 * states
    return Memory(
        np.zeros(4, np.int32),
        np.zeros((states, w[SIGNAL_SIZE]), np.int32),
        np.full(2 * states, NOTHING, np.int32),
        np.zeros((VECTORS_MOST, max(1, w[READ_STORES])), np.int32),
        np.full(2 * transitions, NOTHING, np.int32),
        np.zeros(transitions, np.int64),
        np.zeros(transitions, np.int32),
        np.zeros(transitions, np.int64),
    )


# -- signal states ----------------------------------------------------------------------------------------------------


@compiled
def _write(w: Numbers, s: Numbers, row: Numbers) -> None:
    """The signal state of a world as a row: outputs, ticks to go, queue (what makes it up), then what follows."""
    parts, solids, lines, nodes = w[PARTS], w[SOLIDS], w[LINES], w[NODES]
    for i in range(parts):
        row[i] = s[w[OUT] + i]
        due = s[w[DUE] + i]
        row[parts + i] = NOTHING if due == NOTHING else due - s[TICK]
        row[2 * parts + i] = s[w[QUEUE] + i] if i < s[PENDING] else NOTHING
    at = 3 * parts
    for i in range(solids):
        row[at + i] = s[w[STRONG] + i]
        row[at + solids + i] = s[w[ENERGISED] + i]
    at += 2 * solids
    for i in range(lines):
        row[at + i] = s[w[LEVEL] + i]
    at += lines
    for i in range(nodes):
        row[at + i] = s[w[LOCKED] + i]
    row[at + nodes] = NEVER if s[NEXT_DUE] == NEVER else s[NEXT_DUE] - s[TICK]


@compiled
def restore(w: Numbers, s: Numbers, m: Memory, tick: int) -> None:
    """Write the world's signal state, as it stood at the end of ``tick``, back into its lists."""
    parts, solids, lines, nodes = w[PARTS], w[SOLIDS], w[LINES], w[NODES]
    row = m.states[s[SIGNAL]]
    pending = 0
    for i in range(parts):
        s[w[OUT] + i] = row[i]
        to_go = row[parts + i]
        s[w[DUE] + i] = NOTHING if to_go == NOTHING else tick + to_go
        if row[2 * parts + i] != NOTHING:
            s[w[QUEUE] + i] = row[2 * parts + i]
            pending += 1
    s[PENDING] = pending
    at = 3 * parts
    for i in range(solids):
        s[w[STRONG] + i] = row[at + i]
        s[w[ENERGISED] + i] = row[at + solids + i]
    at += 2 * solids
    for i in range(lines):
        s[w[LEVEL] + i] = row[at + i]
    at += lines
    for i in range(nodes):
        s[w[LOCKED] + i] = row[at + i]
    to_go = row[at + nodes]
    s[NEXT_DUE] = NEVER if to_go == NEVER else tick + to_go


@compiled
def enter_state(w: Numbers, s: Numbers, m: Memory, number: int) -> None:
    """The world's signals go over into a known state: locks and the next change, which turns look at."""
    s[SIGNAL] = number
    row = m.states[number]
    at = 3 * w[PARTS] + 2 * w[SOLIDS] + w[LINES]
    for i in range(w[NODES]):
        s[w[LOCKED] + i] = row[at + i]
    to_go = row[at + w[NODES]]
    s[NEXT_DUE] = NEVER if to_go == NEVER else s[TICK] + to_go


@compiled
def empty(w: Numbers, s: Numbers, m: Memory) -> None:
    """Forget everything; the world's present vector of readings is kept again."""
    m.counts[STATES] = m.counts[TRANSITIONS] = 0
    m.counts[FLUSHES] += 1
    m.find_state[:] = NOTHING
    m.find_transition[:] = NOTHING
    for i in range(w[READ_STORES]):
        m.vectors[0, i] = s[w[READING] + i]
    s[VECTOR] = 0
    m.counts[VECTORS] = 1


@compiled
def keep_state(w: Numbers, s: Numbers, m: Memory) -> None:
    """Give the signal state that stands in the world's lists its number; the memory is emptied if it is full."""
    if m.counts[STATES] == len(m.states):
        empty(w, s, m)
    row = m.states[m.counts[STATES]]
    _write(w, s, row)
    own = 3 * w[PARTS]
    mixed = BASIS
    for i in range(own):
        mixed = (mixed ^ (row[i] + 1)) * PRIME
    size = len(m.find_state)
    at = (mixed ^ (mixed >> 29)) & (size - 1)
    while m.find_state[at] != NOTHING:
        known = m.states[m.find_state[at]]
        same = True
        for i in range(own):
            if known[i] != row[i]:
                same = False
                break
        if same:
            s[SIGNAL] = m.find_state[at]
            return
        at = (at + 1) & (size - 1)
    m.find_state[at] = m.counts[STATES]
    s[SIGNAL] = m.counts[STATES]
    m.counts[STATES] += 1


@compiled
def keep_vector(w: Numbers, s: Numbers, m: Memory) -> None:
    """Give the vector of readings its number; the memory is emptied if it is full. Time: linear in the vectors."""
    reads = w[READ_STORES]
    for number in range(m.counts[VECTORS]):
        same = True
        for i in range(reads):
            if m.vectors[number, i] != s[w[READING] + i]:
                same = False
                break
        if same:
            s[VECTOR] = number
            return
    if m.counts[VECTORS] == len(m.vectors):
        empty(w, s, m)
        return
    for i in range(reads):
        m.vectors[m.counts[VECTORS], i] = s[w[READING] + i]
    s[VECTOR] = m.counts[VECTORS]
    m.counts[VECTORS] += 1


# -- transitions ------------------------------------------------------------------------------------------------------


@compiled
def _find(m: Memory, key: int) -> int:
    """Where a transition stands in the hash table, or the empty place where it would."""
    size = len(m.find_transition)
    mixed = key * PRIME
    at = (mixed ^ (mixed >> 29)) & (size - 1)
    while m.find_transition[at] != NOTHING and m.keys[m.find_transition[at]] != key:
        at = (at + 1) & (size - 1)
    return at


@compiled
def _keep_transition(m: Memory, key: int, after: int, offs: int) -> None:
    number = m.counts[TRANSITIONS]
    if number < len(m.keys):
        m.find_transition[_find(m, key)] = number
        m.keys[number] = key
        m.after[number] = after
        m.offs[number] = offs
        m.counts[TRANSITIONS] += 1


@compiled
def signal_phase(w: Numbers, s: Numbers, x: Numbers, m: Memory) -> bool:
    """The signal phase of the tick that has begun; True if a part changed."""
    key = np.int64(s[SIGNAL]) * (2 * VECTORS_MOST) + s[VECTOR]
    found = m.find_transition[_find(m, key)]
    if found != NOTHING:
        after, offs = m.after[found], m.offs[found]
        if offs:
            _switch_offs(w, s, offs)
        enter_state(w, s, m, after >> 1)
        return after & 1 == 1
    restore(w, s, m, s[TICK] - 1)
    flushes = m.counts[FLUSHES]
    for part in range(w[PARTS]):
        x[w[SWITCHED_OFF] + part] = s[w[SWITCH_OFF_COUNT] + part]
    changed = s[NEXT_DUE] == s[TICK] and run_due(w, s, x)
    keep_state(w, s, m)
    offs, told = _who_switched_off(w, s, x)
    if told and m.counts[FLUSHES] == flushes:
        _keep_transition(m, key, 2 * s[SIGNAL] + int(changed), offs)
    return changed


@compiled
def notice_contents(w: Numbers, s: Numbers, x: Numbers, m: Memory) -> None:
    """The containers marked as changed are read: gauges notice, in file order, where a reading is another one now.

    (A gauge whose reading is what it was has noticed all there is to notice.)
    """
    other = False
    for i in range(x[MARKED_READS]):
        read = x[w[READ_LIST] + i]
        x[w[READ_MARK] + read] = 0
        level = fill_level(w, s, w[w[READ_STORE] + read])
        if level != s[w[READING] + read]:
            s[w[READING] + read] = level
            other = True
    x[MARKED_READS] = 0
    if not other:
        return
    flushes = m.counts[FLUSHES]
    keep_vector(w, s, m)
    key = np.int64(s[SIGNAL]) * (2 * VECTORS_MOST) + VECTORS_MOST + s[VECTOR]
    if m.counts[FLUSHES] == flushes:
        found = m.find_transition[_find(m, key)]
        if found != NOTHING:
            enter_state(w, s, m, m.after[found] >> 1)
            return
    restore(w, s, m, s[TICK])
    for read in range(w[READ_STORES]):
        mark_row(w, x, GAUGES_OF_READ, read, PART_MARK, PART_LIST, MARKED_PARTS)
    notice_marked(w, s, x)
    keep_state(w, s, m)
    if m.counts[FLUSHES] == flushes:
        _keep_transition(m, key, 2 * s[SIGNAL], 0)


@compiled
def _who_switched_off(w: Numbers, s: Numbers, x: Numbers) -> tuple[Any, bool]:
    """The inverters that switched off since, a bit each; False where they cannot be told so."""
    offs = np.int64(0)
    for part in range(w[PARTS]):
        if s[w[SWITCH_OFF_COUNT] + part] != x[w[SWITCHED_OFF] + part]:
            number = w[w[INVERTER_NUMBER] + part]
            if number >= MASK_BITS:
                return offs, False
            offs |= np.int64(1) << number
    return offs, True


@compiled
def _switch_offs(w: Numbers, s: Numbers, offs: int) -> None:
    """Record what a kept transition switched off."""
    for part in range(w[PARTS]):
        number = w[w[INVERTER_NUMBER] + part]
        if 0 <= number < MASK_BITS and (offs >> number) & 1:
            record_switch_off(w, s, part)
