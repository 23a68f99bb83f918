"""How busy slots are kept by the exact search: measured on this machine, and replayed for more slots than it has.

    python -m benchmarks.slots record 4 --workers 2 --limit 900    # runs the search; keeps jobs and times in build/
    python -m benchmarks.slots replay 4                            # the curve, by simulation

The replay runs the very search again, in the time of a clock of its own: each job takes the processor time that was
recorded and gives the report that was recorded, so what is asked when is decided by the search itself. A job that was
never done in the recording (in vain there too) ends only when it has to give way. *Utilisation*: time of jobs whose
reports were taken, over slots times wall.
"""

from __future__ import annotations

import argparse
import heapq
import math
import pickle
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from itertools import count
from pathlib import Path
from typing import Any, Final

from synth.ask.spec import Spec
from synth.confirm.measures import rank_key
from synth.confirm.proposal import Proposal
from synth.model.plots import sizes, volume
from synth.read.spec_file import load_spec
from synth.search.board import Board
from synth.search.exact.descent import Descent
from synth.search.exact.job import Job, Report
from synth.search.exact.worker import engine_for
from synth.search.request import Request
from synth.search.scope import needed_handovers
from synth.solving.parallel.engine import AHEAD

CLONE: Final = Path(__file__).resolve().parent.parent
SLOTS: Final = (1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024)
Record = list[tuple[Job, Report]]


def spec_for(outputs: int) -> Spec:
    return replace(load_spec(CLONE / "specs" / "results" / "any-site.toml"), outputs=outputs)


def descent(outputs: int, engine: Any, until: float) -> Descent:
    """The exact search that the results page rests on, from nothing."""
    spec = spec_for(outputs)
    board = Board(spec.order, lambda _: None)

    def best() -> Proposal | None:
        return min(board.all(), key=lambda one: rank_key(one.measures, spec.order), default=None)

    return Descent(spec, Request(), needed_handovers(spec), engine, board.put, best, sizes(spec, volume), until)


class Recorder:
    """An engine that keeps what it is asked and what comes of it."""

    def __init__(self, engine: Any) -> None:
        self.engine, self.record = engine, Record()

    def results(self, jobs: Iterable[Job], *others: Any) -> Iterator[Report]:
        asked: deque[Job] = deque()

        def each() -> Iterator[Job]:
            for job in jobs:
                asked.append(job)
                yield job

        for report in self.engine.results(each(), *others):
            job = asked.popleft()
            if not report.note:
                self.record.append((job, report))
            yield report


class Over(Exception):
    """The recording ends here."""


@dataclass(eq=False)
class Task:
    job: Job
    report: Report | None
    early: bool = False
    began: float | None = None
    end: float = math.inf


@dataclass
class Replay:
    """An engine in simulated time. ``window``: jobs are drawn only so many behind the one waited for, as once was."""

    record: Record
    slots: int
    look_ahead: bool = True
    window: bool = False
    now: float = 0.0
    useful: float = 0.0
    in_vain: float = 0.0
    running: list[tuple[float, int, Task]] = field(default_factory=list)
    queue: deque[Task] = field(default_factory=deque)
    early: list[Task] = field(default_factory=list)
    numbers: Iterator[int] = field(default_factory=count)

    def results(
        self, jobs: Iterable[Job], stop: Any, deadline: float, likely: Callable[[], Iterable[Job]] = lambda: ()
    ) -> Iterator[Report]:
        drawn, more, out = iter(jobs), True, deque[Task]()
        try:
            while True:
                while more and self._room(out):
                    job = next(drawn, None)
                    if job is None:
                        more = False
                    else:
                        out.append(self._asked(job))
                if not out:
                    return
                if out[0].report is None:
                    raise Over
                if out[0].end <= self.now:
                    task = out.popleft()
                    assert task.report is not None
                    assert task.began is not None
                    self.useful += task.end - task.began
                    yield task.report
                    continue
                if self.look_ahead and not more:
                    self._look_ahead(likely)
                self._step()
        finally:
            for task in out:
                self._end(task)

    def _room(self, out: deque[Task]) -> bool:
        waiting = len(out) if self.window else sum(task.end > self.now for task in out)
        return waiting <= self.slots * AHEAD if self.window else waiting < self.slots * AHEAD

    def _asked(self, job: Job) -> Task:
        task = next((one for one in self.early if one.job == job), None)
        if task is not None:
            self.early.remove(task)
            task.early = False
            return task
        task = Task(job, self._known(job))
        self.queue.append(task)
        self._fill()
        return task

    def _known(self, job: Job) -> Report | None:
        return next((report for one, report in self.record if one == job), None)

    def _fill(self) -> None:
        while self.queue:
            if len(self.running) >= self.slots:
                in_the_way = [task for _, _, task in self.running if task.early]
                if not in_the_way:
                    return
                self._end(max(in_the_way, key=lambda one: one.began or 0.0))
            self._begin(self.queue.popleft())

    def _begin(self, task: Task) -> None:
        task.began = self.now
        task.end = self.now + task.report.seconds if task.report is not None else math.inf
        heapq.heappush(self.running, (task.end, next(self.numbers), task))

    def _end(self, task: Task) -> None:
        """Nobody waits for it any more."""
        if task in self.queue:
            self.queue.remove(task)
        elif task.began is not None:
            self.in_vain += min(self.now, task.end) - task.began
        self.running = [one for one in self.running if one[2] is not task]
        heapq.heapify(self.running)
        if task in self.early:
            self.early.remove(task)

    def _look_ahead(self, likely: Callable[[], Iterable[Job]]) -> None:
        if len(self.running) >= self.slots:
            return
        for job in likely():
            if len(self.running) >= self.slots:
                return
            if not any(task.job == job for task in self.early):
                task = Task(job, self._known(job), early=True)
                self.early.append(task)
                self._begin(task)

    def _step(self) -> None:
        """On to the next end of a job."""
        self.now, _, _ = heapq.heappop(self.running)
        self._fill()


def record(outputs: int, workers: int, limit_s: float, path: Path) -> None:
    began = time.monotonic()
    with engine_for(workers) as engine:
        recorder = Recorder(engine)
        settled = descent(outputs, recorder, began + limit_s).run()
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(pickle.dumps(recorder.record))
    spent = sum(report.seconds for _, report in recorder.record)
    print(f"N = {outputs}: {len(recorder.record)} jobs, {spent:.0f} s of processor, settled: {settled}")


def replayed(known: Record, outputs: int, slots: int, **how: bool) -> tuple[float, float, float]:
    """Wall, utilisation, share of slots times wall that went into jobs in vain."""
    engine = Replay(known, slots, **how)
    with suppress(Over):
        descent(outputs, engine, math.inf).run()
    for _, _, task in list(engine.running):
        engine._end(task)
    whole = slots * engine.now
    return engine.now, engine.useful / whole, engine.in_vain / whole


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("record", "replay"))
    parser.add_argument("outputs", type=int)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--limit", type=float, default=900.0)
    parser.add_argument("--slots", type=int, nargs="+", default=SLOTS)
    parser.add_argument("--before", action="store_true", help="drawn in step, nothing begun early: as once was")
    options = parser.parse_args()
    path = CLONE / "build" / f"slots-{options.outputs}.pickle"
    if options.what == "record":
        record(options.outputs, options.workers, options.limit, path)
        return
    known: Record = pickle.loads(path.read_bytes())
    print(f"N = {options.outputs}: {len(known)} jobs, the longest {max(r.seconds for _, r in known):.1f} s")
    before = {"look_ahead": False, "window": True} if options.before else {}
    print("| slots | wall, s | utilisation | in vain |")
    print("|---|---|---|---|")
    for slots in options.slots:
        wall, busy, in_vain = replayed(known, options.outputs, slots, **before)
        print(f"| {slots:,} | {wall:.1f} | {busy:.1%} | {in_vain:.1%} |", flush=True)


if __name__ == "__main__":
    main()
