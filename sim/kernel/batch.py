"""Many runs in one call: one load after another from the same start, in many update orders."""

from __future__ import annotations

import numpy as np

from sim.kernel.compiling import compiled
from sim.kernel.memory import Memory
from sim.kernel.places import (
    DELIVERED,
    ITEMS,
    LAST_CHANGE,
    NODE_STORE,
    NODES,
    NOTHING,
    OUTPUTS,
    OVERHEATED,
    PARTS,
    TICK,
    Numbers,
)
from sim.kernel.running import AT_REST, load, load_now, run_to, start


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
def run_loads(
    w: Numbers, s: Numbers, x: Numbers, m: Memory, order: Numbers, store: int, kind: int, loads: Numbers, limit: int
) -> int:
    """Each load put in when the one before has come to rest; AT_REST, or STOPPED after ``limit`` ticks of one."""
    for i in range(len(loads)):
        if i == 0:
            load(w, s, store, kind, loads[0])
            start(w, s, m)
        else:
            load_now(w, s, x, m, store, kind, loads[i])
        if run_to(w, s, x, m, order, s[TICK] + limit) != AT_REST:
            return 0
    return AT_REST


@compiled
def run_orders(
    w: Numbers,
    begin: Numbers,
    s: Numbers,
    x: Numbers,
    m: Memory,
    orders: np.ndarray,
    store: int,
    kind: int,
    loads: Numbers,
    limit: int,
    results: np.ndarray,
) -> None:
    """The loads in each update order (rows of ``orders``). Rows of ``results``: at rest, last change, held, overheated,
    delivered ... ."""
    for case in range(len(orders)):
        for i in range(len(begin)):
            s[i] = begin[i]
        results[case, 0] = run_loads(w, s, x, m, orders[case], store, kind, loads, limit)
        results[case, 1] = s[LAST_CHANGE]
        results[case, 2] = held_in_nodes(w, s)
        results[case, 3] = int(has_overheated(w, s))
        for out in range(w[OUTPUTS]):
            results[case, 4 + out] = s[w[DELIVERED] + out]
