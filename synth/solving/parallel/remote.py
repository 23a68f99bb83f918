"""On a node of a cluster, within a worker of Dask's distributed: each task drives one process that can be killed.

Dask cannot end a task that runs: one that is released is only marked as cancelled. So the task looks at that mark
again and again, and kills the process. It is set when whoever asked takes the task back, or has gone.
"""

from __future__ import annotations

import pickle
import queue
import time
from collections import defaultdict
from dataclasses import dataclass, field
from functools import cache
from importlib.metadata import version
from typing import Any, Final

from sim.world.rulebook import default_rules
from synth.solving.parallel.processes import Hand
from synth.solving.parallel.work import End
from synth.solving.proofs_rest_on import PIECES, SEARCH, proofs_digest

_idle: defaultdict[int, queue.SimpleQueue[Hand]] = defaultdict(queue.SimpleQueue)
"""Processes that wait for more, by the memory that each may take."""
NEVER_S: Final = 1e9
PROTOCOL: Final = "splitwright-cluster/1"
SOLVERS: Final = ("python-sat", "ortools")


@cache
def code_digest() -> str:
    """What two machines must have in common so that one may work for the other: all that results depend on."""
    solvers = [f"{name} {version(name)}" for name in SOLVERS]
    return " ".join([PROTOCOL, proofs_digest(default_rules(), (*SEARCH, *PIECES)), *solvers])


@dataclass(frozen=True, slots=True)
class _TakenBack:
    """Set when the task is not wanted any more, or its time is over."""

    worker: Any
    key: Any
    until: float = field(default=NEVER_S)

    def is_set(self) -> bool:
        task = self.worker.state.tasks.get(self.key)
        return task is None or task.state == "cancelled" or time.monotonic() >= self.until


def run(packed: bytes, seconds: float, mebibytes: int, topic: str) -> bytes:
    """Do one job, in a process of its own under its own bound on memory; how it ended, as bytes.

    What it tells on the way goes to whoever listens to the topic.
    """
    from distributed import get_worker

    worker = get_worker()
    key = worker.get_current_task()
    stop = _TakenBack(worker, key, time.monotonic() + min(seconds, NEVER_S))
    do, job = pickle.loads(packed)
    try:
        hand = _idle[mebibytes].get_nowait()
    except queue.Empty:
        hand = Hand(mebibytes)
    try:
        end = hand.do(do, job, seconds, stop, lambda so_far: worker.log_event(topic, (key, pickle.dumps(so_far))))
    finally:
        _idle[mebibytes].put(hand)
    return pickle.dumps(End(end.how, end.value, end.why))
