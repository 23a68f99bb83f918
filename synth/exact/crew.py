"""The processes that do jobs, one for each core: started when needed, killed when nobody waits for them any more.

A SAT solver cannot be asked to stop and may run out of memory; in a process of its own it can be killed at any moment
and takes nothing with it.
"""

from __future__ import annotations

import os
import pickle
import queue
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from multiprocessing.connection import Connection
from types import TracebackType
from typing import Final

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
        self._process: subprocess.Popen[bytes] | None = None

    def do(self, job: Job, stop: Stop, deadline: float) -> Report:
        """Have the job done; what came of it until ``stop``, ``deadline`` or the death of the process."""
        if self._process is None:
            self._start()
        report = Report()
        try:
            self._jobs.send(job)
            while True:
                if not self._answers.poll(POLL_S):
                    if stop.is_set() or time.monotonic() >= deadline:
                        self.dismiss()
                        report.note = STOPPED
                        return report
                    continue
                report, ended = self._received()
                if ended:
                    return report
        except (EOFError, OSError, pickle.UnpicklingError):
            self.dismiss()
            report.note = OUT_OF_MEMORY
            return report

    def _received(self) -> tuple[Report, bool]:
        ended, report = self._answers.recv()
        if not isinstance(report, Report):
            raise RuntimeError(f"a worker failed: {report}")
        return report, bool(ended)

    def dismiss(self) -> None:
        """Kill the process, if there is one."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None
            self._jobs.close()
            self._answers.close()

    def _start(self) -> None:
        child_jobs, jobs = os.pipe()
        answers, child_answers = os.pipe()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "synth.exact.worker", str(child_jobs), str(child_answers), str(self._mebibytes)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            pass_fds=(child_jobs, child_answers),
            start_new_session=True,  # Ctrl-C is for the one who asked
            env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
        )
        os.close(child_jobs)
        os.close(child_answers)
        self._jobs, self._answers = Connection(jobs, readable=False), Connection(answers, writable=False)
