"""One engine for work side by side: jobs in, results out in the order of the jobs, whichever ends first.

Where the jobs are done is the affair of its slots: processes on this machine (``processes``), or on several
(``cluster``). Several searches share the slots fairly (``Share``), and what is likely to be asked next is begun while
slots would stand idle otherwise. None of it changes a result: each depends on its job alone.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable, Hashable, Iterable, Iterator
from concurrent.futures import Future
from types import TracebackType
from typing import Any, Final, Generic

from synth.solving.budget import AnyOf, Stop
from synth.solving.parallel.work import STOPPED, End, J, R, Slots, Work

POLL_S: Final = 0.05
GUESS_S: Final = 1.0
"""What a job is taken to last, for whose turn it is, until that is known."""
AHEAD: Final = 4
"""Jobs that are drawn ahead for each slot."""
EARLY_KEPT: Final = 4_000
"""Jobs begun early that are kept for whoever may ask for them."""
DEATHS: Final = 2
"""Of processes at one job, before it is split."""


class WorkFailed(RuntimeError):
    """The work raised an exception where it was done: a fault of the program, not of what it was asked."""


class _Task(Generic[J, R]):
    """A job on its way; a ``Stop`` for whoever does it. ``asked``: not only likely to be."""

    def __init__(self, job: J, share: Share[J, R], deadline: float, stop: Stop | None) -> None:
        self.job, self.share, self.deadline, self.stop = job, share, deadline, stop
        self.withdrawn = threading.Event()
        self.todo, self.results = [job], list[R]()
        self.deaths = 0
        self.running = False
        self.so_far: Any = None
        self.result: R | None = None
        self.fault = ""
        self.done, self.is_cut = False, False

    @property
    def asked(self) -> bool:
        return self.stop is not None

    @property
    def is_of_use(self) -> bool:
        return not (self.withdrawn.is_set() or self.is_cut)

    def is_set(self) -> bool:
        """The end is asked for."""
        stopped = self.withdrawn.is_set() or (self.stop is not None and self.stop.is_set())
        return stopped or time.monotonic() >= self.deadline


class Engine(Generic[J, R]):
    """For one kind of work. As a context manager it ends all that still runs with the block."""

    def __init__(self, work: Work[J, R], slots: Slots, progress: Callable[[Any], None] = lambda _: None) -> None:
        self.work, self.slots, self.progress = work, slots, progress
        self.changed = threading.Condition()
        self._shares: list[Share[J, R]] = []
        self._running: list[_Task[J, R]] = []
        self._closed = False

    def __enter__(self) -> Engine[J, R]:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with self.changed:
            self._closed = True
            for share in self._shares:
                while share.queue:
                    self._cut_short(share.queue.popleft(), STOPPED)
        self.slots.close()

    def share(self, weight: float = 1.0) -> Share[J, R]:
        """A new share in the slots: of several searches that wait, the one that has had least for its weight is next
        (weighted fair queueing; Demers, Keshav, Shenker, "Analysis and simulation of a fair queueing algorithm",
        SIGCOMM 1989; with whole jobs for packets)."""
        with self.changed:
            one = Share(self, weight, min((other.had for other in self._shares if other.queue), default=0.0))
            self._shares.append(one)
        return one

    def results(
        self, jobs: Iterable[J], stop: Stop, deadline: float, likely: Callable[[], Iterable[J]] = lambda: ()
    ) -> Iterator[R]:
        """As ``Share.results``, in a share of its own."""
        return self.share().results(jobs, stop, deadline, likely)

    # -- whose turn it is (all of it with ``changed`` held) -----------------------------------------------------------

    def fill(self) -> None:
        """Begin what waits, as far as there are slots; what is only likely gives way."""
        while not self._closed and (waiting := [share for share in self._shares if share.queue]):
            first = min(waiting, key=lambda share: share.had)
            if len(self._running) >= self.slots.count:
                early = [task for task in self._running if not task.asked]
                if early and not any(task.withdrawn.is_set() for task in early):
                    early[-1].withdrawn.set()
                return
            self._begin(first.queue.popleft())

    @property
    def idle(self) -> int:
        """Slots that nobody waits for."""
        if self._closed or any(share.queue for share in self._shares):
            return 0
        return max(0, self.slots.count - len(self._running))

    def _begin(self, task: _Task[J, R]) -> None:
        if task.is_set():
            self._cut_short(task, STOPPED)
            return
        task.share.had += GUESS_S / task.share.weight
        task.running = True
        self._running.append(task)
        began = time.monotonic()

        def told(so_far: Any) -> None:
            task.so_far = so_far
            self.progress(so_far)

        try:
            end = self.slots.start(self.work.do, task.todo[0], task.deadline - began, task, told)
        except RuntimeError:  # closed in this moment
            self._closed = True
            self._running.remove(task)
            self._cut_short(task, STOPPED)
            return
        end.add_done_callback(lambda future: self._ended(task, future, began))

    def _ended(self, task: _Task[J, R], future: Future[End], began: float) -> None:
        with self.changed:
            task.running = False
            self._running.remove(task)
            task.share.had += (time.monotonic() - began - GUESS_S) / task.share.weight
            if future.cancelled():
                self._cut_short(task, STOPPED)
            else:
                try:
                    self._take(task, future.result())
                except Exception as fault:  # of ours: whoever waits is told
                    task.fault, task.done = f"{type(fault).__name__}: {fault}", True
            self.fill()
            self.changed.notify_all()

    def _take(self, task: _Task[J, R], end: End) -> None:
        if end.how == "done":
            self._one_done(task, end.value)
        elif end.how == "failed":
            task.fault, task.done = end.why, True
        elif end.how == "stopped" or task.is_set() or self._closed or self.slots.lost:
            self._cut_short(task, end.why or STOPPED, end.value)
        elif end.how == "lost":
            self._again(task)
        else:
            self._died(task, end)

    def _one_done(self, task: _Task[J, R], result: R) -> None:
        task.results.append(result)
        del task.todo[0]
        task.deaths = 0
        if task.todo:
            self._again(task)
        else:
            task.result, task.done = self.work.joined(task.results), True

    def _died(self, task: _Task[J, R], end: End) -> None:
        """Once again in a new process; then in smaller jobs; what is as small as it gets is cut short."""
        task.deaths += 1
        if task.deaths < DEATHS:
            self._again(task)
        elif parts := self.work.split(task.todo[0]):
            task.todo[:1], task.deaths = parts, 0
            self._again(task)
        else:
            self._one_done(task, self.work.cut_short(end.value, end.why))

    def _again(self, task: _Task[J, R]) -> None:
        task.share.queue.appendleft(task)

    def _cut_short(self, task: _Task[J, R], why: str, so_far: Any = None) -> None:
        if not task.done:
            task.results.append(self.work.cut_short(so_far, why))
            task.result, task.done, task.is_cut = self.work.joined(task.results), True, True


class Share(Generic[J, R]):
    """One search's part in an engine. ``had``: seconds of slots so far, divided by ``weight``."""

    def __init__(self, engine: Engine[J, R], weight: float, had: float) -> None:
        self.engine, self.weight, self.had = engine, weight, had
        self.queue: deque[_Task[J, R]] = deque()
        self._early: dict[Hashable, _Task[J, R]] = {}

    def results(
        self, jobs: Iterable[J], stop: Stop, deadline: float, likely: Callable[[], Iterable[J]] = lambda: ()
    ) -> Iterator[R]:
        """Each job's result, in the order of the jobs, whichever ends first; so the answer is always the same.

        Jobs are drawn a few ahead. ``deadline`` (of ``time.monotonic``) and ``stop`` end the jobs that still run; their
        results tell what came until then. Closing the iterator ends the jobs that are still running. ``likely``: jobs
        that may be asked next, the likeliest first; where slots would stand idle they are begun, and whoever asks for
        the same job later has its result. Raises WorkFailed when a job did.
        """
        enough = AnyOf(stop, left := threading.Event())
        drawn, more = iter(jobs), True
        out: deque[_Task[J, R]] = deque()
        try:
            while True:
                while more and sum(not task.done for task in out) < max(1, self.engine.slots.count) * AHEAD:
                    job = None if stop.is_set() or self.engine.slots.lost else next(drawn, None)
                    if job is None:
                        more = False
                        break
                    out.append(self._asked(job, enough, deadline))
                if not out:
                    return
                if not (more or out[0].done):
                    self._look_ahead(likely, enough, deadline)
                if self._is_done(out[0]):
                    task = out.popleft()
                    if task.fault:
                        raise WorkFailed(task.fault)
                    yield task.result  # type: ignore[misc]
        finally:
            left.set()
            with self.engine.changed:
                self.queue = deque(task for task in self.queue if task not in out)
            early = [(key, task) for key, task in self._early.items() if task.is_of_use]
            self._early = dict(early[-EARLY_KEPT:])

    def submit(self, job: J, stop: Stop, deadline: float) -> Callable[[float], R | None]:
        """Begin one job; whoever calls what is returned waits so many seconds for its result (None: not yet)."""
        task = self._asked(job, stop, deadline)

        def result(seconds: float) -> R | None:
            with self.engine.changed:
                self.engine.changed.wait_for(lambda: task.done, seconds)
            return task.result

        return result

    def _asked(self, job: J, stop: Stop, deadline: float) -> _Task[J, R]:
        with self.engine.changed:
            key = self.engine.work.key(job)
            task = self._early.get(key)
            if task is None or not task.is_of_use or task.job != job:
                task = _Task(job, self, deadline, stop)
                if self.engine._closed:
                    self.engine._cut_short(task, STOPPED)
                else:
                    self.queue.append(task)
            else:
                del self._early[key]
                task.stop, task.deadline = stop, deadline
            self.engine.fill()
        return task

    def _look_ahead(self, likely: Callable[[], Iterable[J]], stop: Stop, deadline: float) -> None:
        """Begin what is likely to be asked next, in slots that nobody waits for."""

        def is_of_use() -> bool:
            return self.engine.idle > 0 and not stop.is_set() and time.monotonic() < deadline

        with self.engine.changed:
            if not is_of_use():
                return
        for job in likely():
            with self.engine.changed:
                if not is_of_use():
                    return
                key = self.engine.work.key(job)
                if key not in self._early:
                    self._early[key] = _Task(job, self, deadline, None)
                    self.engine._begin(self._early[key])

    def _is_done(self, task: _Task[J, R]) -> bool:
        """Whether it is, after a moment at the most; what waits in vain is cut short."""
        engine = self.engine
        with engine.changed:
            if not task.done and not task.running and (task.is_set() or engine.slots.lost):
                if task in self.queue:
                    self.queue.remove(task)
                engine._cut_short(task, engine.slots.lost or STOPPED)
            if not task.done:
                engine.fill()  # there may be more slots by now
                engine.changed.wait(POLL_S)
            return task.done
