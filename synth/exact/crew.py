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

from synth.budget import AnyOf, Stop
from synth.child_process import Child
from synth.exact.job import Job, Report

POLL_S: Final = 0.05
OUT_OF_MEMORY: Final = "a worker ran out of memory"
STOPPED: Final = "stopped by the time limit"
MEBIBYTES_LEAST: Final = 300
"""Address space that a worker needs to come up."""
GUESS_S: Final = 1.0
"""What a job is taken to last, for whose turn it is, until that is known."""
AHEAD: Final = 4
"""Jobs that are drawn ahead for each worker."""


class Crew:
    """``workers`` processes, for one search or for several side by side (``share``). ``mebibytes``: bound on the
    address space of all of them together; 0: none."""

    def __init__(self, workers: int, mebibytes: int = 0) -> None:
        self.workers = workers
        self.mebibytes = max(MEBIBYTES_LEAST, mebibytes // workers) if mebibytes else 0
        self._idle: queue.SimpleQueue[_Hand] = queue.SimpleQueue()
        self._hands: list[_Hand] = []
        self._at_work, self._closed = 0, False
        self._shares: list[Share] = []
        self._turn = threading.Condition()

    def __enter__(self) -> Crew:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._closed = True
        for hand in list(self._hands):
            hand.dismiss()

    def share(self, weight: float = 1.0) -> Share:
        """A new share in the processes: of several searches that wait, the one that has had least for its weight is
        next (weighted fair queueing; Demers, Keshav, Shenker, "Analysis and simulation of a fair queueing algorithm",
        SIGCOMM 1989; with whole jobs for packets)."""
        with self._turn:
            one = Share(self, weight, min((other.had for other in self._shares if other.waiting), default=0.0))
            self._shares.append(one)
        return one

    def reports(self, jobs: Iterable[Job], stop: Stop, deadline: float) -> Iterator[Report]:
        """As ``Share.reports``, in a share of its own."""
        return self.share().reports(jobs, stop, deadline)

    def work(self, share: Share, job: Job, stop: Stop, deadline: float) -> Report:
        """The job's report, when it is the share's turn and a process is free."""
        if not self._taken(share, stop, deadline):
            return Report(note=STOPPED)
        began = time.monotonic()
        try:
            hand = self._idle.get_nowait()
        except queue.Empty:
            hand = _Hand(self.mebibytes)
            self._hands.append(hand)
        try:
            return hand.do(job, stop, deadline)
        finally:
            self._idle.put(hand)
            with self._turn:
                self._at_work -= 1
                share.had += (time.monotonic() - began - GUESS_S) / share.weight
                self._turn.notify_all()

    def _taken(self, share: Share, stop: Stop, deadline: float) -> bool:
        """Wait for a process; False when it is too late for that."""
        with self._turn:
            share.waiting += 1
            try:
                while not (self._closed or stop.is_set() or time.monotonic() >= deadline):
                    first = min((one for one in self._shares if one.waiting), key=lambda one: one.had)
                    if self._at_work < self.workers and first is share:
                        self._at_work += 1
                        share.had += GUESS_S / share.weight
                        return True
                    self._turn.wait(POLL_S)
                return False
            finally:
                share.waiting -= 1
                self._turn.notify_all()


class Share:
    """One search's part in a crew. ``had``: seconds of processes so far, divided by ``weight``."""

    def __init__(self, crew: Crew, weight: float, had: float) -> None:
        self.crew, self.weight, self.had, self.waiting = crew, weight, had, 0

    @property
    def workers(self) -> int:
        """Processes that it may have at once, while no other share waits."""
        return self.crew.workers

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
                    if stop.is_set():
                        return
                    running.append(pool.submit(self.crew.work, self, job, ending, deadline))
                    if len(running) > self.workers * AHEAD:
                        yield running.popleft().result()
                while running:
                    yield running.popleft().result()
            finally:
                enough.set()
                for future in running:
                    future.cancel()

class _Hand:
    """One process, started anew after it had to be killed."""

    def __init__(self, mebibytes: int) -> None:
        self._mebibytes = mebibytes
        self._child: Child | None = None
        self._lock = threading.Lock()  # the crew may dismiss it while it is being waited for

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
            report.note = STOPPED if stop.is_set() else OUT_OF_MEMORY
            return report

    def dismiss(self) -> None:
        """Kill the process, if there is one."""
        with self._lock:
            child, self._child = self._child, None
        if child is not None:
            child.kill()


def _received(child: Child) -> tuple[Report, bool]:
    ended, report = child.answers.recv()
    if not isinstance(report, Report):
        raise RuntimeError(f"a worker failed: {report}")
    return report, bool(ended)
