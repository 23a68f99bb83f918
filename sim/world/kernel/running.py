"""Runs of the kernel: ticks, quiet stretches, loads, runs to rest (``sim.world.world`` and ``sim.world.trial`` in
plain words)."""

from __future__ import annotations

from typing import Final

from sim.world.kernel.compiling import compiled
from sim.world.kernel.items import (
    furnace_passes,
    furnace_quiet,
    furnace_turn,
    is_cold,
    node_turn,
    put,
    touch,
)
from sim.world.kernel.memory import Memory, keep_state, keep_vector, notice_contents, signal_phase
from sim.world.kernel.places import (
    FURNACES,
    IDLE,
    LAST_CHANGE,
    LOCKED,
    NEVER,
    NEXT_DUE,
    NODES,
    PARTS,
    READ_STORE,
    READ_STORES,
    READING,
    READY,
    TICK,
    Numbers,
)
from sim.world.kernel.signals import fill_level, notice_one

AT_REST: Final = 1
STOPPED: Final = 0


@compiled
def start(w: Numbers, s: Numbers, m: Memory) -> None:
    """Let everything be noticed at tick 0, once the load before tick 1 is in place."""
    for read in range(w[READ_STORES]):
        s[w[READING] + read] = fill_level(w, s, w[w[READ_STORE] + read])
    for part in range(w[PARTS]):
        notice_one(w, s, part)
    keep_vector(w, s, m)
    keep_state(w, s, m)


@compiled
def load(w: Numbers, s: Numbers, store: int, kind: int, count: int) -> int:
    """Put items into a container from outside, before ``start``; how many found room."""
    done = 0
    while done < count and put(w, s, store, kind):
        done += 1
    if done:
        s[LAST_CHANGE] = s[TICK]
    return done


@compiled
def load_unnoticed(w: Numbers, s: Numbers, x: Numbers, store: int, kind: int, count: int) -> int:
    """Put items into a container in the middle of a run; how many found room. ``notice_contents`` is to follow, once
    for all that is put in at the same time."""
    done = load(w, s, store, kind, count)
    touch(w, s, x, store)
    return done


@compiled
def load_now(w: Numbers, s: Numbers, x: Numbers, m: Memory, store: int, kind: int, count: int) -> int:
    """Put items into one container in the middle of a run, noticed at the present tick; how many found room."""
    done = load_unnoticed(w, s, x, store, kind, count)
    notice_contents(w, s, x, m)
    return done


@compiled
def advance(w: Numbers, s: Numbers, x: Numbers, m: Memory, order: Numbers) -> bool:
    """One tick, signal phase and machine phase; True if a container or a signal part changed."""
    s[TICK] += 1
    tick = s[TICK]
    changed = s[NEXT_DUE] != NEVER and signal_phase(w, s, x, m)
    idle, ready, locked, nodes = w[IDLE], w[READY], w[LOCKED], w[NODES]
    for machine in order:
        if s[idle + machine]:
            continue
        if machine < nodes:
            if s[ready + machine] > tick or s[locked + machine]:
                continue
            if node_turn(w, s, x, m, machine):
                changed = True
        elif is_cold(w, s, machine - nodes):
            s[idle + machine] = 1
        elif furnace_turn(w, s, x, m, machine - nodes):
            changed = True
    if changed:
        s[LAST_CHANGE] = tick
    return changed


@compiled
def next_event(w: Numbers, s: Numbers) -> int:
    """The first tick to come in which something may happen but burning and progress; NEVER: at rest.

    A node that is unlocked and not known to be idle may move when its cooldown ends. Time: linear in the machines.
    """
    tick = s[TICK]
    soonest = s[NEXT_DUE]
    idle, ready, locked, nodes = w[IDLE], w[READY], w[LOCKED], w[NODES]
    for node in range(nodes):
        if not s[idle + node] and not s[locked + node]:
            soonest = min(soonest, max(tick + 1, s[ready + node]))
    for furnace in range(w[FURNACES]):
        if s[idle + nodes + furnace]:
            continue
        quiet = furnace_quiet(w, s, furnace)
        if quiet != NEVER:
            soonest = min(soonest, tick + 1 + quiet)
    return soonest


@compiled
def pass_to(w: Numbers, s: Numbers, x: Numbers, m: Memory, tick: int) -> None:
    """Let the ticks up to ``tick`` pass, in which nothing happens but burning, progress and waiting."""
    ticks = tick - s[TICK]
    while s[NEXT_DUE] != NEVER and s[TICK] < tick:
        s[TICK] += 1
        signal_phase(w, s, x, m)
    s[TICK] = tick
    first = w[IDLE] + w[NODES]
    for furnace in range(w[FURNACES]):
        if not s[first + furnace] and not is_cold(w, s, furnace):
            furnace_passes(w, s, furnace, ticks)


@compiled
def run_to(w: Numbers, s: Numbers, x: Numbers, m: Memory, order: Numbers, last: int) -> int:
    """Run until rest (AT_REST), at the latest to the end of tick ``last`` (STOPPED)."""
    while True:
        event = next_event(w, s)
        if event == NEVER:
            return AT_REST
        if event > last:
            pass_to(w, s, x, m, last)
            return STOPPED
        if event > s[TICK] + 1:
            pass_to(w, s, x, m, event - 1)
        advance(w, s, x, m, order)

