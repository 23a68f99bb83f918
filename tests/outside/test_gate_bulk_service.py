"""The gate of a gated row as a queue with bulk service: it begins with ``a`` waiting and serves N at a time.

The general bulk service rule (M. F. Neuts, "A general class of bulk queues with Poisson input", 1967; from memory),
with SimPy 4.1 for the clock: a server that finds at least ``a`` waiting takes N of them, one a period; with fewer it
waits for more. ``a`` is the fill from which a node of five slots of 64 reads 2: 1 + 14 * 23 / 320 >= 2 (rulebook
section 4, by hand). The simulator's outputs must each have had one item a batch, and the rest must wait.
"""

from __future__ import annotations

import random
from collections.abc import Generator, Sequence
from pathlib import Path
from typing import Any

import pytest
import simpy

from sim.world.files.reading import load_layout
from sim.world.trial import Arrival, run_trial

LAYOUTS = Path(__file__).parents[2] / "specs" / "layouts"
ENOUGH, PERIOD = 23, 8


class BulkQueue:
    """Customers that come one by one, and a server that takes ``batch`` of them once ``ENOUGH`` are there."""

    def __init__(self, batch: int, arrivals: Sequence[int]) -> None:
        self.batch, self.waiting, self.batches = batch, 0, 0
        self.clock = simpy.Environment()
        self.came = self.clock.event()
        self.clock.process(self._customers(arrivals))
        self.clock.process(self._server())

    def _customers(self, arrivals: Sequence[int]) -> Generator[simpy.Event, Any, None]:
        for at in arrivals:
            yield self.clock.timeout(at - self.clock.now)
            self.waiting += 1
            self.came.succeed()
            self.came = self.clock.event()

    def _server(self) -> Generator[simpy.Event, Any, None]:
        while True:
            while self.waiting < ENOUGH:
                yield self.came
            for _ in range(self.batch):
                yield self.clock.timeout(PERIOD)
                self.waiting -= 1
            self.batches += 1


@pytest.mark.parametrize(("name", "batch"), [("three", 3), ("six", 6), ("eight", 8)])
def test_batches_of_the_gate_are_those_of_a_queue_with_bulk_service(name: str, batch: int) -> None:
    layout, rng = load_layout(str(LAYOUTS / f"gated-row-of-{name}.plan")), random.Random(batch)
    for _ in range(12):
        gaps = rng.choice([range(1), range(9), range(40), (0, 0, 0, 300)])
        ticks = [0]
        for _ in range(rng.randint(1, 30 + 8 * batch)):
            ticks.append(ticks[-1] + rng.choice(gaps))
        queue = BulkQueue(batch, ticks)
        queue.clock.run(until=ticks[-1] + 10_000)
        result = run_trial(layout, [Arrival(tick, "feed", 1) for tick in ticks])
        (stream,) = result.streams
        assert stream.delivered == (queue.batches,) * batch, ticks
        assert len(ticks) - sum(stream.delivered) == queue.waiting < ENOUGH
        assert sum(slot[1] for slot in result.contents[2, 1, 2] if slot) == queue.waiting, "all of it in G"


def test_the_queue_serves_no_batch_before_enough_are_there() -> None:
    """By hand: 22 wait for ever; with 23 and N = 8 one batch leaves 15."""
    for count, batches in ((22, 0), (23, 1), (30, 1), (31, 2)):
        queue = BulkQueue(8, [0] * count)
        queue.clock.run(until=10_000)
        assert (queue.batches, queue.waiting) == (batches, count - 8 * batches)
