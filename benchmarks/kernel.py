"""The compiled kernel in the simulator's benchmark: batches of runs on one core and on two, and what a start costs."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

from sim.world.geometry import Cell
from sim.world.kernel import batch
from sim.world.kernel import places as p
from sim.world.kernel.memory import new_memory
from sim.world.kernel.run import Run
from sim.world.kernel.tables import Tables
from sim.world.layout import Layout
from sim.world.trial import Arrival

CORES = 2
FIRST_OUTPUT = batch.FIRST_OUTPUT
ORDERS = 64
"""Update orders that the runs of a batch go through in turn."""
TICK_LIMIT = 20_000
REPOSITORY = Path(__file__).resolve().parent.parent
FIRST_CALL = """
import time
started = time.perf_counter()
from benchmarks.kernel import Batch
from tests.outside.rows import burst_row_layout
from sim.world.trial import Arrival
Batch(burst_row_layout(3), [Arrival(0, "feed", 54)]).run(1)
print(time.perf_counter() - started)
"""


class Batch:
    """Runs of one layout with its loads put in at once, in random update orders, the default one first."""

    def __init__(self, layout: Layout, loads: Sequence[Arrival]) -> None:
        self.tables = t = Tables(layout)
        rng = random.Random(layout.title)
        self.orders = [list(t.machines), *(rng.sample(t.machines, len(t.machines)) for _ in range(ORDERS - 1))]
        self._orders = np.array([t.order(order) for order in self.orders])
        counts = {load.stream: load.count for load in loads}
        self._loads = np.array([[counts[stream.name] for stream in layout.streams]], np.int32)
        sources = [(t.store_no[s.source], t.kind_no[s.item], p.NOTHING) for s in layout.streams]
        self._sources = np.array(sources, np.int32)
        self.nodes = int(t.w[p.NODES])
        self.ticks_a_run = 0.0
        """Mean over the runs that ``runs_for`` last made up its mind for."""

    def run(self, runs: int) -> int:
        """So many runs from an empty memory of signal states; the ticks that they took together, to the last change."""
        return int(self.results(runs)[:, batch.LAST].sum())

    def results(self, runs: int) -> np.ndarray:
        """What so many runs come to, one row each."""
        t = self.tables
        numbers = np.arange(runs) % len(self._orders)
        results = np.zeros((runs, batch.FIRST_OUTPUT + len(t.outputs)), np.int32)
        batch.run_orders(
            t.w,
            t.start,
            t.start.copy(),
            t.scratch(),
            new_memory(t.w),
            self._orders[numbers],
            self._sources,
            self._loads,
            TICK_LIMIT,
            results,
        )
        return results

    def run_on(self, threads: int, runs: int) -> int:
        """So many runs on each of some threads, each with its own state, scratch and memory; ticks together."""
        with ThreadPoolExecutor(threads) as pool:
            return sum(pool.map(self.run, [runs] * threads))

    def runs_for(self, seconds: float) -> int:
        """How many runs take about so long; all orders once at least."""
        self.run(ORDERS)  # compiled, or read from the cache
        taken = _timed(lambda: self.run(ORDERS), time.process_time)[0]
        runs = max(ORDERS, int(ORDERS * seconds / max(taken, 1e-6)))
        self.ticks_a_run = self.run(runs) / runs
        return runs

    def turns_a_second(self, threads: int, runs: int, clock: Callable[[], float] = time.perf_counter) -> float:
        """Node-turns a second by the clock on the wall, or another one."""
        seconds, ticks = _timed(lambda: self.run_on(threads, runs), clock)
        return self.nodes * ticks / seconds


def _timed(run: Callable[[], int], clock: Callable[[], float]) -> tuple[float, int]:
    started = clock()
    result = run()
    return clock() - started, result


def arrivals_at_outputs(layout: Layout, loads: Sequence[Arrival], order: Sequence[Cell]) -> dict[Cell, list[int]]:
    """The tick in which each item enters each output, by what the kernel has delivered after each tick."""
    run = Run(Tables(layout), order)
    for load in loads:
        stream = next(stream for stream in layout.streams if stream.name == load.stream)
        run.put(stream.source, stream.item, load.count)
    outputs = [cell for stream in layout.streams for cell in stream.outputs]
    entries: dict[Cell, list[int]] = {cell: [] for cell in outputs}
    before = [0] * len(outputs)
    while not run.run_to(run.tick + 1):
        now = [count for counts in run.delivered() for count in counts]
        for cell, old, new in zip(outputs, before, now, strict=True):
            entries[cell] += [run.tick] * (new - old)
        before = now
    return entries


def start_up() -> dict[str, float]:
    """Seconds from a new Python to the first result: nothing compiled yet, then with the cache filled."""
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "NUMBA_CACHE_DIR": folder}
        return {"cache_empty": _first_call(environment), "cache_filled": _first_call(environment)}


def _first_call(environment: dict[str, Any]) -> float:
    done = subprocess.run(
        [sys.executable, "-c", FIRST_CALL], cwd=REPOSITORY, env=environment, capture_output=True, text=True, check=True
    )
    return float(done.stdout)
