"""The processes of the exact search: reports in the order of the jobs, nothing hangs, nothing is left behind."""

from __future__ import annotations

import subprocess
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice
from pathlib import Path
from types import SimpleNamespace

import pytest

from sim.files.layout_json import layout_json_text
from synth.exact import crew as module
from synth.exact.caps import Caps
from synth.exact.crew import OUT_OF_MEMORY, STOPPED, Crew, Share
from synth.exact.cubes import cubes_of
from synth.exact.descent import Descent
from synth.exact.job import Job, Report, steps_of
from synth.measures import rank_key
from synth.plots import Plot, Size, question_for, sizes, windows
from synth.request import Request
from synth.result import Proposal
from synth.spec_file import load_spec

SPEC = load_spec(Path(__file__).resolve().parent.parent / "specs" / "two-kilns.toml")
FAR = 300.0
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
    with Crew(2) as crew:
        reports = list(crew.reports(jobs, threading.Event(), in_force()))
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

    with Crew(1) as crew:
        reports = crew.reports(jobs(), threading.Event(), in_force())
        for _ in islice(reports, 3):
            pass
        reports.close()
    assert 3 <= len(drawn) <= 3 + module.AHEAD + 1


def test_the_deadline_ends_what_still_runs(processes: list[subprocess.Popen[bytes]]) -> None:
    with Crew(2) as crew:
        reports = list(crew.reports([endless(), endless(), endless()], threading.Event(), in_force(3.0)))
    assert [report.note for report in reports] == [STOPPED] * 3
    assert all(not report.found and not report.ruled_out for report in reports)
    assert processes


def test_a_deadline_that_has_passed_starts_nothing(processes: list[subprocess.Popen[bytes]]) -> None:
    with Crew(1) as crew:
        reports = list(crew.reports([job(2, (3, 2, 4))], threading.Event(), time.monotonic() - 1))
    assert [report.note for report in reports] == [STOPPED]
    assert processes == []


def test_stop_ends_what_still_runs_and_the_crew_can_go_on(processes: list[subprocess.Popen[bytes]]) -> None:
    """A worker that was killed is started anew for the next job."""
    stop = threading.Event()
    with Crew(1) as crew:
        timer = threading.Timer(2.0, stop.set)
        timer.start()
        (report,) = crew.reports([endless()], stop, in_force())
        timer.join()
        assert report.note == STOPPED
        assert all(one.poll() is not None for one in processes)
        (report,) = crew.reports([job(2, (3, 2, 4))], threading.Event(), in_force())
        assert (report.note, len(report.ruled_out)) == ("", 5)
        assert len(processes) == 2


STUCK = """
import pathlib, sys, time
from multiprocessing.connection import Connection
from synth.exact.job import Report
jobs, answers = Connection(int(sys.argv[1]), writable=False), Connection(int(sys.argv[2]), readable=False)
job = jobs.recv()
answers.send((False, Report(ruled_out=list(job.cubes[:2]), admitted=3)))
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
    with Crew(1) as crew:
        (report,) = crew.reports([one], told, in_force())
    assert (report.note, report.ruled_out, report.admitted) == (STOPPED, list(one.cubes[:2]), 3)


def test_a_worker_that_dies_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """As one killed by the system for want of memory: no answer comes, and none is waited for."""
    begin = subprocess.Popen
    monkeypatch.setattr(
        subprocess, "Popen", lambda words, **options: begin([words[0], "-c", "pass"], **options)
    )
    with Crew(1) as crew:
        reports = list(crew.reports([job(2, (3, 2, 4))] * 3, threading.Event(), in_force()))
    assert [report.note for report in reports] == [OUT_OF_MEMORY] * 3


def test_closing_early_ends_the_workers(processes: list[subprocess.Popen[bytes]]) -> None:
    """What is not waited for is not worked on."""
    with Crew(2) as crew:
        reports = crew.reports([job(2, (3, 2, 4)), endless(), endless()], threading.Event(), in_force())
        first = next(reports)
        assert len(first.ruled_out) == 5
        reports.close()
        busy = [one for one in processes if one.poll() is None]
        assert len(busy) <= 1, "an idle worker may wait for more; one at work is killed"
    assert all(one.poll() is not None for one in processes)


def test_an_error_while_reports_are_read_ends_the_workers(processes: list[subprocess.Popen[bytes]]) -> None:

    def read() -> None:
        with Crew(1) as crew:
            for report in crew.reports([job(2, (3, 2, 4)), endless()], threading.Event(), in_force()):
                raise RuntimeError(f"enough: {report.note}")

    with pytest.raises(RuntimeError, match="enough"):
        read()
    assert all(one.poll() is not None for one in processes)


@pytest.mark.slow
def test_too_little_memory_is_told_not_raised(processes: list[subprocess.Popen[bytes]]) -> None:
    """A box that fits in memory is settled, one that does not stays open; the next job has a fresh worker."""
    jobs = [job(2, (3, 2, 4)), job(2, (12, 12, 7), 0), job(2, (3, 2, 4))]
    with Crew(1, 300) as crew:
        assert crew.mebibytes == 300
        reports = list(crew.reports(jobs, threading.Event(), in_force()))
    assert [report.note for report in reports] == ["", OUT_OF_MEMORY, ""]
    assert reports[1].ruled_out == reports[1].found == []
    assert len(reports[0].ruled_out) == len(reports[2].ruled_out) == 5
    assert len(processes) == 2


def test_memory_is_shared_among_the_workers() -> None:
    assert Crew(2, 4000).mebibytes == 2000
    assert Crew(2, 100).mebibytes == module.MEBIBYTES_LEAST, "less than a worker needs to come up is no use"
    assert Crew(2).mebibytes == 0


def layouts_of(workers: int, seed: int) -> list[str]:
    """What a search over all boxes of the spec finds, in order."""
    spec = replace(SPEC, size=(4, 2, 4))
    found: list[Proposal] = []
    with Crew(workers) as crew:
        boxes = sizes(spec, lambda size: size[0] * size[1] * size[2])
        descent = Descent(
            spec,
            Request(workers=workers, seed=seed),
            (8, 7),
            crew,
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


# -- several searches in one crew -------------------------------------------------------------------------------------


def at_once(crew: Crew, share: Share, seconds: float = 0.2) -> bool:
    """Whether the share is given a process within that time."""
    return crew._taken(share, threading.Event(), in_force(seconds))


@pytest.mark.parametrize(("had", "others", "given"), [(0.0, 1.0, True), (1.0, 1.0, True), (2.0, 1.0, False)])
def test_the_search_that_has_had_least_is_next(had: float, others: float, given: bool) -> None:
    """Of those that wait; with nobody else waiting, whoever comes."""
    crew = Crew(1)
    one, other = crew.share(), crew.share()
    one.had, other.had, other.waiting = had, others, 1
    assert at_once(crew, one) is given
    other.waiting = 0
    if not given:
        assert at_once(crew, one, FAR)
    assert not at_once(crew, one), "there is but one process"


def test_what_a_search_has_had_is_divided_by_its_weight(monkeypatch: pytest.MonkeyPatch) -> None:
    """Jobs of four seconds each, by a clock of our own."""
    now = 0.0

    class Hand:
        def __init__(self, _: int) -> None:
            pass

        def do(self, *_: object) -> Report:
            nonlocal now
            now += 4.0
            return Report()

        def dismiss(self) -> None:
            pass

    monkeypatch.setattr(module, "_Hand", Hand)
    monkeypatch.setattr(module, "time", SimpleNamespace(monotonic=lambda: now))
    with Crew(1) as crew:
        light, heavy = crew.share(1.0), crew.share(4.0)
        for share in (light, heavy, heavy):
            crew.work(share, endless(), threading.Event(), FAR)
        assert (light.had, heavy.had) == (4.0, 2.0)
        light.waiting = 1
        assert crew.share().had == 4.0, "a new one has no claim to what the others had"


def test_searches_side_by_side_have_the_reports_that_each_has_alone(processes: list[subprocess.Popen[bytes]]) -> None:
    """In their order, in the same processes."""
    mine = [[job(2, (3, 2, 4), i) for i in range(4)], [job(2, (2, 2, 4), i) for i in range(4)]]
    found: list[list[Report]] = [[], []]
    with Crew(2) as crew:

        def search(number: int) -> None:
            found[number] += crew.share(number + 1).reports(mine[number], threading.Event(), in_force())

        threads = [threading.Thread(target=search, args=(number,)) for number in (0, 1)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert 1 <= len(processes) <= 2
    for jobs, reports in zip(mine, found, strict=True):
        alone = [list(steps_of(one))[-1] for one in jobs]
        assert [(one.ruled_out, one.open) for one in reports] == [(one.ruled_out, one.open) for one in alone]


def test_nobody_is_given_a_process_of_a_crew_that_is_closed() -> None:
    with Crew(1) as crew:
        share = crew.share()
    assert not at_once(crew, share, FAR)
    assert crew.work(share, endless(), threading.Event(), in_force()).note == STOPPED
