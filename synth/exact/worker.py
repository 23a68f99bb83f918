"""The process that does jobs: takes jobs from one pipe, puts reports into another.

Started by ``crew`` as ``python -m synth.exact.worker JOBS ANSWERS MEBIBYTES`` with the pipes' file descriptors. It ends
when there are no more jobs, or whoever started it has gone.
"""

from __future__ import annotations

import resource
import sys
from multiprocessing.connection import Connection

from synth.child_process import end_with_parent
from synth.exact.job import Job, Report, steps_of


def main() -> None:
    """Do jobs until the other end is closed."""
    end_with_parent()
    jobs_fd, answers_fd, mebibytes = map(int, sys.argv[1:])
    if mebibytes:
        resource.setrlimit(resource.RLIMIT_AS, (mebibytes * 2**20, mebibytes * 2**20))
    jobs, answers = Connection(jobs_fd, writable=False), Connection(answers_fd, readable=False)
    while True:
        try:
            job = jobs.recv()
        except EOFError:
            return
        assert isinstance(job, Job)
        try:
            _do(job, answers)
        except MemoryError:
            return  # whoever asked sees the pipe closed
        except Exception as fault:
            answers.send((True, f"{type(fault).__name__}: {fault}"))


def _do(job: Job, answers: Connection) -> None:
    """The job's reports: one whenever a layout was found, and the last one with ``True`` for the end."""
    told = 0
    report = Report()
    for report in steps_of(job):
        if len(report.found) > told:
            told = len(report.found)
            answers.send((False, report))
    answers.send((True, report))


if __name__ == "__main__":
    main()
