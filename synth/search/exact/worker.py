"""Jobs of the exact search as work for an engine (``synth/solving/parallel``)."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import replace
from typing import Final

from synth.search.exact.job import Job, Report, steps_of
from synth.solving.parallel.engine import Engine, Share
from synth.solving.parallel.processes import Processes
from synth.solving.parallel.work import Slots, Tell, Work

JobEngine = Engine[Job, Report]
JobShare = Share[Job, Report]


def engine_for(workers: int, mebibytes: int = 0, slots: Slots | None = None) -> JobEngine:
    """In ``workers`` processes on this machine, ``mebibytes`` together (0: no bound); or in other ``slots``."""
    return Engine(SETTLING, slots or Processes(workers, mebibytes))


def settle(job: Job, _seconds: float, tell: Tell) -> Report:
    """The job's report, told whenever there is more in it. The budget is the job's own."""
    told = 0
    report = Report()
    for report in steps_of(job):
        if (news := len(report.found) + len(report.ruled_out) + len(report.open)) > told:
            told = news
            tell(report)
    return report


def _cut_short(so_far: Report | None, why: str) -> Report:
    return replace(so_far or Report(), note=why)


def _halves(job: Job) -> Sequence[Job]:
    """The same cubes in two jobs."""
    half = len(job.cubes) // 2
    return [replace(job, cubes=part) for part in (job.cubes[:half], job.cubes[half:])] if half else []


def _joined(reports: Sequence[Report]) -> Report:
    if len(reports) == 1:
        return reports[0]
    return Report(
        [cube for one in reports for cube in one.ruled_out],
        [cube for one in reports for cube in one.open],
        [found for one in reports for found in one.found],
        sum(one.admitted for one in reports),
        sum(one.refused for one in reports),
        sum(one.undecided for one in reports),
        sum(one.seconds for one in reports),
        next((one.note for one in reports if one.note), ""),
    )


def _key(job: Job) -> Hashable:
    return id(job.question), job.cubes, job.caps, job.conflicts, job.every


SETTLING: Final = Work(settle, _cut_short, _halves, _joined, _key)
