"""Work side by side: results in the order of the jobs, deaths told for what they are, nothing is left behind."""

from __future__ import annotations

import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from dataclasses import replace
from itertools import count, islice
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from sim.world.files.layout_json import layout_json_text
from synth.confirm.measures import rank_key
from synth.confirm.proposal import Proposal
from synth.model.plots import Plot, Size, question_for, sizes, windows
from synth.read.spec_file import load_spec
from synth.search.exact.caps import Caps
from synth.search.exact.cubes import cubes_of
from synth.search.exact.descent import Descent
from synth.search.exact.job import Job, Report, steps_of
from synth.search.exact.worker import engine_for, settle
from synth.search.request import Request
from synth.solving.budget import Stop
from synth.solving.parallel import engine as module
from synth.solving.parallel.engine import AHEAD, Engine, WorkFailed
from synth.solving.parallel.processes import MEBIBYTES_LEAST, Processes
from synth.solving.parallel.work import STOPPED, Do, End, Tell, Work

SPEC = load_spec(Path(__file__).resolve().parent.parent / "specs" / "two-kilns.toml")
FAR = 60.0
"""Seconds that no test here needs."""


@pytest.fixture(autouse=True)
def processes(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[subprocess.Popen[bytes]]]:
    """Every worker that was started; after the test none of them runs any more."""
    started: list[subprocess.Popen[bytes]] = []
    begin = subprocess.Popen

    def noted(*words: object, **options: object) -> subprocess.Popen[bytes]:
        started.append(begin(*words, **options))  # type: ignore[call-overload]
        return started[-1]

    monkeypatch.setattr(subprocess, "Popen", noted)
    yield started
    left = [one for one in started if one.poll() is None]
    for one in left:
        one.kill()
        one.wait()
    assert left == []


def job(outputs: int, size: Size, number: int | None = None, conflicts: int = 20_000) -> Job:
    """Settle the cubes of a box, or one of them."""
    spec = replace(SPEC, outputs=outputs, size=size)
    asked = question_for(spec, Plot((0, 0, 0), size), windows(spec, (8, 7)))
    cubes = cubes_of(asked)
    chosen = cubes if number is None else cubes[number : number + 1]
    return Job(spec, asked, (8, 7), tuple(chosen), Caps(), conflicts)


def endless() -> Job:
    """One that nobody here waits for: five kilns, no bound on the conflicts."""
    return job(5, (6, 4, 4), conflicts=10**9)


def in_force(seconds: float = FAR) -> float:
    return time.monotonic() + seconds


def test_reports_come_in_the_order_of_the_jobs(processes: list[subprocess.Popen[bytes]]) -> None:
    """The first job takes longest; each report is of its own cube, and the same as without any process."""
    jobs = [job(2, (4, 2, 4)), *(job(2, (3, 2, 4), i) for i in range(5)), job(3, (3, 2, 4))]
    with engine_for(2) as engine:
        reports = list(engine.results(jobs, threading.Event(), in_force()))
        assert len(processes) == 2
    assert len(reports) == len(jobs)
    for one, report in zip(jobs, reports, strict=True):
        *_, alone = steps_of(one)
        assert (report.ruled_out, report.open, report.note) == (alone.ruled_out, alone.open, "")
        assert [found.proposal for found in report.found] == [found.proposal for found in alone.found]
    assert [report.ruled_out for report in reports[1:6]] == [[cube] for cube in cubes_of(jobs[1].question)]
    assert len(reports[0].found) == 1


def test_jobs_are_drawn_a_few_ahead() -> None:
    """So many boxes need not be built before the first one is settled."""
    drawn = []

    def jobs() -> Iterator[Job]:
        for i in range(100):
            drawn.append(i)
            yield job(2, (3, 2, 4), i % 5)

    with engine_for(1) as engine:
        reports = engine.results(jobs(), threading.Event(), in_force())
        for _ in islice(reports, 3):
            pass
        reports.close()
    assert 3 <= len(drawn) <= 3 + AHEAD + 1


def test_the_deadline_ends_what_still_runs(processes: list[subprocess.Popen[bytes]]) -> None:
    with engine_for(2) as engine:
        reports = list(engine.results([endless(), endless(), endless()], threading.Event(), in_force(3.0)))
    assert [report.note for report in reports] == [STOPPED] * 3
    assert all(not report.found and len(report.ruled_out) < len(endless().cubes) for report in reports)
    assert processes


def test_a_deadline_that_has_passed_starts_nothing(processes: list[subprocess.Popen[bytes]]) -> None:
    with engine_for(1) as engine:
        reports = list(engine.results([job(2, (3, 2, 4))], threading.Event(), time.monotonic() - 1))
    assert [report.note for report in reports] == [STOPPED]
    assert processes == []


def test_stop_ends_what_still_runs_and_the_engine_can_go_on(processes: list[subprocess.Popen[bytes]]) -> None:
    """A worker that was killed is started anew for the next job."""
    stop = threading.Event()
    with engine_for(1) as engine:
        timer = threading.Timer(2.0, stop.set)
        timer.start()
        (report,) = engine.results([endless()], stop, in_force())
        timer.join()
        assert report.note == STOPPED
        assert all(one.poll() is not None for one in processes)
        (report,) = engine.results([job(2, (3, 2, 4))], threading.Event(), in_force())
        assert (report.note, len(report.ruled_out)) == ("", 5)
        assert len(processes) == 2


STUCK = """
import pathlib, sys, time
from multiprocessing.connection import Connection
from synth.search.exact.job import Report
jobs, answers = Connection(int(sys.argv[1]), writable=False), Connection(int(sys.argv[2]), readable=False)
_, job, _ = jobs.recv()
answers.send(("so far", Report(ruled_out=list(job.cubes[:2]), admitted=3)))
time.sleep(1)
pathlib.Path(sys.argv[4]).touch()
time.sleep(600)
"""


class Told:
    """Set when a file is there."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def is_set(self) -> bool:
        return self.path.exists()


def test_what_came_before_the_end_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A worker that has told of something and then works on and on; the stop comes after it was told."""
    told = Told(tmp_path / "told")
    begin = subprocess.Popen

    def stuck(words: list[str], **options: object) -> object:
        return begin([words[0], "-c", STUCK, *words[3:], str(told.path)], **options)

    monkeypatch.setattr(subprocess, "Popen", stuck)
    one = job(2, (3, 2, 4))
    with engine_for(1) as engine:
        (report,) = engine.results([one], told, in_force())
    assert (report.note, report.ruled_out, report.admitted) == (STOPPED, list(one.cubes[:2]), 3)


DEATHS = [
    ("pass", "a worker ended without an answer, with status 0"),
    ("import sys; sys.exit(7)", "a worker ended without an answer, with status 7"),
    (
        "import os; os.kill(os.getpid(), 9)",
        "a worker was killed by signal 9 (Killed), as the system does when its memory runs out",
    ),
    ("import os; os.kill(os.getpid(), 11)", "a worker was killed by signal 11 (Segmentation fault)"),
    (
        "import os, sys; print('what(): std::bad_alloc', file=sys.stderr, flush=True); os.abort()",
        "a worker ran out of memory under its cap of 2000 MiB",
    ),
]


@pytest.mark.parametrize(("script", "told"), DEATHS)
def test_a_worker_that_dies_is_told_for_what_it_died_of(
    script: str, told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No answer comes, and none is waited for; the job is done again, in smaller ones, and left open in the end."""
    begin, began = subprocess.Popen, []

    def dying(words: list[str], **options: object) -> object:
        began.append(words)
        return begin([words[0], "-c", script], **options)

    monkeypatch.setattr(subprocess, "Popen", dying)
    with engine_for(1, 2000) as engine:
        two = replace(whole := job(2, (3, 2, 4)), cubes=whole.cubes[:2])
        (report,) = engine.results([two], threading.Event(), in_force())
    assert (report.note, report.ruled_out) == (told, [])
    assert len(began) == 6, "twice the two cubes together, twice each of them"


def fails(_job: int, _seconds: float, _tell: Tell) -> int:
    raise ValueError("no such thing")


def squared(number: int, _seconds: float, tell: Tell) -> int:
    tell(f"{number} by {number}")
    if number < 0:
        time.sleep(600)
    return number * number


def greedy(numbers: tuple[int, ...], _seconds: float, _tell: Tell) -> list[int]:
    """Takes more memory than there is for more than one number, and for 13."""
    if len(numbers) > 1 or numbers == (13,):
        bytearray(2**40)
    return [-number for number in numbers]


def halves(numbers: tuple[int, ...]) -> list[tuple[int, ...]]:
    half = len(numbers) // 2
    return [numbers[:half], numbers[half:]] if half else []


SQUARING: Work[int, int | None] = Work(squared, lambda _so_far, _why: None, key=lambda number: number)


def test_work_that_raises_an_exception_is_a_fault_and_says_which() -> None:
    failing: Work[int, int] = Work(fails, lambda _so_far, _why: 0)
    with (
        Engine(failing, Processes(1)) as engine,
        pytest.raises(WorkFailed, match=r"^a worker failed with an exception: ValueError: no such thing$"),
    ):
        list(engine.results([1], threading.Event(), in_force()))


def test_a_job_twice_out_of_memory_is_split_and_what_is_smallest_is_left_open(
    processes: list[subprocess.Popen[bytes]],
) -> None:
    notes: list[str] = []

    def cut_short(_so_far: object, why: str) -> list[int]:
        notes.append(why)
        return []

    work = Work(greedy, cut_short, halves, lambda parts: [one for part in parts for one in part])
    with Engine(work, Processes(1, 600)) as engine:
        assert list(engine.results([(7,), (1, 2, 13)], threading.Event(), in_force())) == [[-7], [-1, -2]]
    assert notes == ["a worker ran out of memory under its cap of 600 MiB"]
    assert len(processes) == 6, "1 2 13 twice, 2 13 twice, 13 twice; each death takes a process"


def test_lines_on_what_is_done_come_through() -> None:
    told: list[str] = []
    with Engine(SQUARING, Processes(1), told.append) as engine:
        assert list(engine.results([3, 4], threading.Event(), in_force())) == [9, 16]
    assert told == ["3 by 3", "4 by 4"]


def test_what_is_begun_with_nobody_waiting_can_be_asked_for_later() -> None:
    with Engine(SQUARING, Processes(2)) as engine:
        share = engine.share()
        slow, quick = (share.submit(number, threading.Event(), in_force()) for number in (-1, 5))
        assert quick(FAR) == 25
        assert slow(0.0) is None


# -- no slot stands idle ----------------------------------------------------------------------------------------------


class Table:
    """Slots without processes: jobs end when the test says so."""

    lost = ""

    def __init__(self, count: int) -> None:
        self.count, self.begun = count, list[int]()
        self.ends: dict[int, Future[End]] = {}
        self.stops: dict[int, Stop] = {}

    def start(self, _do: Do[Any, Any], job: int, _seconds: float, stop: Stop, _tell: Tell) -> Future[End]:
        self.begun.append(job)
        self.ends[job], self.stops[job] = Future(), stop
        return self.ends[job]

    def end(self, *jobs: int) -> None:
        for job in jobs:
            self.ends[job].set_result(End("done", job * job))

    def close(self) -> None:
        for one in self.ends.values():
            one.cancel()


def in_a_thread(jobs: Iterator[int], into: list[int | None]) -> threading.Thread:
    thread = threading.Thread(target=lambda: into.extend(jobs), daemon=True)
    thread.start()
    return thread


def until(there: Callable[[], bool]) -> None:
    end = time.monotonic() + FAR
    while not there():
        assert time.monotonic() < end
        time.sleep(0.01)


def test_what_is_likely_next_is_begun_in_the_tail_and_taken_when_asked_for() -> None:
    table, got = Table(2), list[int | None]()
    with Engine(SQUARING, table) as engine:
        share = engine.share()
        tail = in_a_thread(share.results([1, 2], threading.Event(), in_force(), lambda: [3]), got)
        until(lambda: table.begun == [1, 2])
        table.end(2)
        until(lambda: table.begun == [1, 2, 3])
        table.end(1)
        tail.join()
        assert got == [1, 4]
        after = in_a_thread(share.results([3, 6], threading.Event(), in_force()), got)
        until(lambda: 6 in table.begun)
        assert table.begun.count(3) == 1
        table.end(3, 6)
        after.join()
    assert got == [1, 4, 9, 36]


def test_nothing_more_is_begun_early_once_the_end_has_come() -> None:
    """However much there is that might be asked next."""
    table, got, stop = Table(2), list[int | None](), threading.Event()
    drawn: list[int] = []

    def likely() -> Iterator[int]:
        for number in count(100):
            drawn.append(number)
            yield number

    with Engine(SQUARING, table) as engine:
        share = engine.share()
        tail = in_a_thread(share.results([1], stop, in_force(), likely), got)
        until(lambda: table.begun == [1, 100])
        stop.set()
        table.end(100)
        time.sleep(0.2)
        table.ends[1].set_result(End("stopped", None, STOPPED))
        tail.join(FAR)
        assert not tail.is_alive()
        assert list(share.results([2], threading.Event(), time.monotonic() - 1, likely)) == [None]
    assert got == [None]
    assert table.begun == [1, 100]
    assert set(drawn) <= {100, 101}


def test_what_was_begun_early_gives_way_to_what_is_asked_for() -> None:
    table, got = Table(1), list[int | None]()
    with Engine(SQUARING, table) as engine:
        share = engine.share()
        share._look_ahead(lambda: [7], threading.Event(), in_force())
        assert table.begun == [7]
        asked = in_a_thread(share.results([8], threading.Event(), in_force()), got)
        until(table.stops[7].is_set)
        table.ends[7].set_result(End("stopped", None, STOPPED))
        until(lambda: table.begun == [7, 8])
        table.end(8)
        asked.join()
        assert got == [64]
        again = in_a_thread(share.results([7], threading.Event(), in_force()), got)
        until(lambda: table.begun == [7, 8, 7])
        table.end(7)
        again.join()
    assert got == [64, 49], "what was stopped is not taken for an answer"


def test_slots_go_on_behind_a_job_that_takes_long() -> None:
    table, got = Table(2), list[int | None]()
    with Engine(SQUARING, table) as engine:
        jobs = iter(range(1, 40))
        reading = in_a_thread(engine.results(jobs, threading.Event(), in_force()), got)
        for number in range(2, 40):
            until(lambda number=number: number in table.begun)  # type: ignore[misc]
            table.end(number)
        assert got == []
        table.end(1)
        reading.join()
    assert got == [number * number for number in range(1, 40)]


def test_closing_early_ends_the_workers(processes: list[subprocess.Popen[bytes]]) -> None:
    """What is not waited for is not worked on."""
    with engine_for(2) as engine:
        reports = engine.results([job(2, (3, 2, 4)), endless(), endless()], threading.Event(), in_force())
        first = next(reports)
        assert len(first.ruled_out) == 5
        reports.close()
        until(lambda: len([one for one in processes if one.poll() is None]) <= 1)  # an idle one may wait for more
    until(lambda: all(one.poll() is not None for one in processes))


def test_an_error_while_reports_are_read_ends_the_workers(processes: list[subprocess.Popen[bytes]]) -> None:

    def read() -> None:
        with engine_for(1) as engine:
            for report in engine.results([job(2, (3, 2, 4)), endless()], threading.Event(), in_force()):
                raise RuntimeError(f"enough: {report.note}")

    with pytest.raises(RuntimeError, match="enough"):
        read()
    assert all(one.poll() is not None for one in processes)


@pytest.mark.slow
def test_too_little_memory_is_told_not_raised(processes: list[subprocess.Popen[bytes]]) -> None:
    """A box that fits in memory is settled, one that does not stays open; the next job has a fresh worker."""
    jobs = [job(2, (3, 2, 4)), job(2, (12, 12, 7), 0), job(2, (3, 2, 4))]
    with engine_for(1, 300) as engine:
        reports = list(engine.results(jobs, threading.Event(), in_force()))
    assert [report.note for report in reports] == ["", "a worker ran out of memory under its cap of 300 MiB", ""]
    assert reports[1].ruled_out == reports[1].found == []
    assert len(reports[0].ruled_out) == len(reports[2].ruled_out) == 5
    assert len(processes) == 3


def test_memory_is_shared_among_the_workers() -> None:
    assert Processes(2, 4000).mebibytes == 2000
    assert Processes(2, 100).mebibytes == MEBIBYTES_LEAST, "less than a worker needs to come up is no use"
    assert Processes(2).mebibytes == 0


def layouts_of(workers: int, seed: int) -> list[str]:
    """What a search over all boxes of the spec finds, in order."""
    spec = replace(SPEC, size=(4, 2, 4))
    found: list[Proposal] = []
    with engine_for(workers) as engine:
        boxes = sizes(spec, lambda size: size[0] * size[1] * size[2])
        descent = Descent(
            spec,
            Request(workers=workers, seed=seed),
            (8, 7),
            engine,
            found.append,
            lambda: min(found, key=lambda one: rank_key(one.measures, spec.order), default=None),
            boxes,
            in_force(),
        )
        assert descent.run()
    return [layout_json_text(one.layout) for one in found]


@pytest.mark.slow
def test_one_and_two_workers_find_the_same_in_the_same_order() -> None:
    alone = layouts_of(1, 7)
    assert alone
    assert layouts_of(2, 7) == alone


# -- several searches in one engine -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("had", "others", "first"), [(0.0, 1.0, 1), (1.0, 1.0, 1), (2.0, 1.0, 2)])
def test_the_search_that_has_had_least_is_next(had: float, others: float, first: int) -> None:
    """Of those that wait."""
    table = Table(1)
    with Engine(SQUARING, table) as engine:
        busy, one, other = engine.share(), engine.share(), engine.share()
        busy.submit(9, threading.Event(), FAR + time.monotonic())
        one.had, other.had = had, others
        one.submit(1, threading.Event(), in_force())
        other.submit(2, threading.Event(), in_force())
        assert table.begun == [9]
        table.end(9)
        assert table.begun == [9, first]


def test_what_a_search_has_had_is_divided_by_its_weight(monkeypatch: pytest.MonkeyPatch) -> None:
    """Jobs of four seconds each, by a clock of our own."""
    now = 0.0
    monkeypatch.setattr(module, "time", SimpleNamespace(monotonic=lambda: now))
    table = Table(1)
    with Engine(SQUARING, table) as engine:
        light, heavy = engine.share(1.0), engine.share(4.0)
        for number, share in enumerate((light, heavy, heavy)):
            share.submit(number, threading.Event(), FAR)
            now += 4.0
            table.end(number)
        assert (light.had, heavy.had) == (4.0, 2.0)
        heavy.submit(3, threading.Event(), FAR)
        light.submit(4, threading.Event(), FAR)
        assert engine.share().had == 4.0, "a new one has no claim to what the others had"


def test_searches_side_by_side_have_the_reports_that_each_has_alone(processes: list[subprocess.Popen[bytes]]) -> None:
    """In their order, in the same processes."""
    mine = [[job(2, (3, 2, 4), i) for i in range(4)], [job(2, (2, 2, 4), i) for i in range(4)]]
    found: list[list[Report]] = [[], []]
    with engine_for(2) as engine:

        def search(number: int) -> None:
            found[number] += engine.share(number + 1).results(mine[number], threading.Event(), in_force())

        threads = [threading.Thread(target=search, args=(number,)) for number in (0, 1)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert 1 <= len(processes) <= 2
    for jobs, reports in zip(mine, found, strict=True):
        alone = [list(steps_of(one))[-1] for one in jobs]
        assert [(one.ruled_out, one.open) for one in reports] == [(one.ruled_out, one.open) for one in alone]


def test_nothing_is_done_by_an_engine_that_is_closed(processes: list[subprocess.Popen[bytes]]) -> None:
    with engine_for(1) as engine:
        share = engine.share()
    assert [one.note for one in share.results([endless()], threading.Event(), in_force())] == [STOPPED]
    assert processes == []


def test_an_engine_that_is_left_starts_no_process_any_more(processes: list[subprocess.Popen[bytes]]) -> None:
    """Not even one whose thread was about to, when it was closed."""
    slots = Processes(1)
    slots.close()
    end = slots._run(settle, endless(), FAR, threading.Event(), lambda _: None)
    assert end == End("stopped", None, STOPPED)
    assert processes == []
