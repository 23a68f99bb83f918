"""Slots on this machine: processes, started when needed, killed when nobody waits for them any more.

A SAT solver cannot be asked to stop and may run out of memory; in a process of its own it can be killed at any moment
and takes nothing with it.
"""

from __future__ import annotations

import pickle
import queue
import signal
import threading
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any, Final

from synth.solving.budget import AnyOf, Stop
from synth.solving.child_process import Child
from synth.solving.parallel.work import STOPPED, Do, End, Tell

POLL_S: Final = 0.05
MEBIBYTES_LEAST: Final = 300
"""Address space that a worker needs to come up."""
OUT_OF_MEMORY: Final = ("bad_alloc", "out of memory", "out-of-memory", "MemoryError", "Cannot allocate")
"""What compiled code and Python say when memory ends."""
OUT_OF_MEMORY_KILL: Final = ", as the system does when its memory runs out"


class Processes:
    """``count`` of them. ``mebibytes``: bound on the address space of all of them together; 0: none."""

    def __init__(self, count: int, mebibytes: int = 0) -> None:
        self.count, self.lost, self.faults = count, "", ()
        self.mebibytes = max(MEBIBYTES_LEAST, mebibytes // count) if mebibytes else 0
        self._threads = ThreadPoolExecutor(count)
        self._idle: queue.SimpleQueue[Hand] = queue.SimpleQueue()
        self._hands: list[Hand] = []
        self._closed = threading.Event()

    def start(self, do: Do[Any, Any], job: Any, seconds: float, stop: Stop, tell: Tell) -> Future[End]:
        """Begin a job in a process that is free."""
        return self._threads.submit(self._run, do, job, seconds, stop, tell)

    def close(self) -> None:
        """Kill them all; none is started any more."""
        self._closed.set()
        self._threads.shutdown(wait=False, cancel_futures=True)
        for hand in list(self._hands):
            hand.dismiss()

    def _run(self, do: Do[Any, Any], job: Any, seconds: float, stop: Stop, tell: Tell) -> End:
        try:
            hand = self._idle.get_nowait()
        except queue.Empty:
            hand = Hand(self.mebibytes)
            self._hands.append(hand)
        try:
            return hand.do(do, job, seconds, AnyOf(stop, self._closed), tell)
        finally:
            self._idle.put(hand)


class Hand:
    """One process, started anew after it had to be killed, or died."""

    def __init__(self, mebibytes: int) -> None:
        self._mebibytes = mebibytes
        self._child: Child | None = None
        self._lock = threading.Lock()  # it may be dismissed while it is being waited for

    def do(self, do: Do[Any, Any], job: Any, seconds: float, stop: Stop, tell: Tell) -> End:
        """Have the job done; what came of it until ``stop``, or the death of the process."""
        with self._lock:  # whoever dismisses it meets no process, or one that is there
            if stop.is_set():
                return End("stopped", None, STOPPED)
            child = self._child = self._child or Child.running("synth.solving.parallel.worker", str(self._mebibytes))
        so_far = None
        try:
            child.jobs.send((do, job, seconds))
            while True:
                if not child.answers.poll(POLL_S):
                    if stop.is_set():
                        self.dismiss()
                        return End("stopped", so_far, STOPPED)
                    continue
                how, value = child.answers.recv()
                if how == "so far":
                    so_far = value
                    tell(so_far)
                elif how == "done":
                    return End("done", value)
                elif how == "failed":
                    return End("failed", so_far, f"a worker failed with an exception: {value}")
                else:
                    self.dismiss()
                    return End("died", so_far, self._out_of_memory())
        except (EOFError, OSError, pickle.UnpicklingError):
            with self._lock:
                dismissed, self._child = self._child is None, None
            if dismissed:
                return End("stopped", so_far, STOPPED)
            return End("died", so_far, self._death_of(*child.ended()))

    def dismiss(self) -> None:
        """End the process, if there is one."""
        with self._lock:
            child, self._child = self._child, None
        if child is not None:
            child.kill()

    def _out_of_memory(self) -> str:
        cap = f" under its cap of {self._mebibytes} MiB" if self._mebibytes else ""
        return f"a worker ran out of memory{cap}"

    def _death_of(self, status: int, complaint: str) -> str:
        """What a process died of that has ended without an answer."""
        if any(word in complaint for word in OUT_OF_MEMORY):
            return self._out_of_memory()
        if status >= 0:
            return f"a worker ended without an answer, with status {status}"
        hint = OUT_OF_MEMORY_KILL if -status == signal.SIGKILL else ""
        return f"a worker was killed by signal {-status} ({signal.strsignal(-status)}){hint}"
