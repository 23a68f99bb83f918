"""The processes that do jobs, one for each core: started when needed, killed when nobody waits for them any more.

A SAT solver cannot be asked to stop and may run out of memory; in a process of its own it can be killed at any moment
and takes nothing with it.
"""

from __future__ import annotations

import pickle
import queue
import threading
import time
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from types import TracebackType
from typing import Final

from synth.child_process import Child
from synth.exact.job import Job, Report
from synth.solver import AnyOf, Stop

POLL_S: Final = 0.05
OUT_OF_MEMORY: Final = "a worker ran out of memory"
STOPPED: Final = "stopped by the time limit"
MEBIBYTES_LEAST: Final = 300
"""Address space that a worker needs to come up."""
AHEAD: Final = 4
"""Jobs that are drawn ahead for each worker."""


class Crew:
    """``workers`` processes. ``mebibytes``: bound on the address space of all of them together; 0: none."""

    def __init__(self, workers: int, mebibytes: int = 0) -> None:
        self.workers = workers
        self.mebibytes = max(MEBIBYTES_LEAST, mebibytes // workers) if mebibytes else 0
        self._idle: queue.SimpleQueue[_Hand] = queue.SimpleQueue()
        self._hands: list[_Hand] = []

    def __enter__(self) -> Crew:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for hand in self._hands:
            hand.dismiss()

    def reports(self, jobs: Iterable[Job], stop: Stop, deadline: float) -> Iterator[Report]:
        """Each job's report, in the order of the jobs, whichever ends first; so the answer is always the same.

        Jobs are drawn a few ahead. ``deadline`` (of ``time.monotonic``) and ``stop`` end the jobs that still run; their
        reports tell what came until then. Closing the iterator ends the jobs that are still running.
        """
        enough = threading.Event()
        ending = AnyOf(stop, enough)
        running: deque[Future[Report]] = deque()
        with ThreadPoolExecutor(self.workers) as pool:
            try:
                for job in jobs:
                    running.append(pool.submit(self._do, job, ending, deadline))
                    if len(running) > self.workers * AHEAD:
                        yield running.popleft().result()
                while running:
                    yield running.popleft().result()
            finally:
                enough.set()
                for future in running:
                    future.cancel()

    def _do(self, job: Job, stop: Stop, deadline: float) -> Report:
        if stop.is_set() or time.monotonic() >= deadline:
            return Report(note=STOPPED)
        try:
            hand = self._idle.get_nowait()
        except queue.Empty:
            hand = _Hand(self.mebibytes)
            self._hands.append(hand)
        try:
            return hand.do(job, stop, deadline)
        finally:
            self._idle.put(hand)


class _Hand:
    """One process, started anew after it had to be killed."""

    def __init__(self, mebibytes: int) -> None:
        self._mebibytes = mebibytes
        self._child: Child | None = None

    def do(self, job: Job, stop: Stop, deadline: float) -> Report:
        """Have the job done; what came of it until ``stop``, ``deadline`` or the death of the process."""
        child = self._child = self._child or Child.running("synth.exact.worker", str(self._mebibytes))
        report = Report()
        try:
            child.jobs.send(job)
            while True:
                if not child.answers.poll(POLL_S):
                    if stop.is_set() or time.monotonic() >= deadline:
                        self.dismiss()
                        report.note = STOPPED
                        return report
                    continue
                report, ended = _received(child)
                if ended:
                    return report
        except (EOFError, OSError, pickle.UnpicklingError):
            self.dismiss()
            report.note = OUT_OF_MEMORY
            return report

    def dismiss(self) -> None:
        """Kill the process, if there is one."""
        if self._child is not None:
            self._child.kill()
            self._child = None


def _received(child: Child) -> tuple[Report, bool]:
    ended, report = child.answers.recv()
    if not isinstance(report, Report):
        raise RuntimeError(f"a worker failed: {report}")
    return report, bool(ended)
