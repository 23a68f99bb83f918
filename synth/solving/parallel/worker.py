"""The process that does jobs: takes them from one pipe, puts what comes of them into another.

Started as ``python -m synth.solving.parallel.worker JOBS ANSWERS MEBIBYTES`` with the pipes' file descriptors. It ends
when there are no more jobs, or whoever started it has gone.
"""

from __future__ import annotations

import resource
import sys
from multiprocessing.connection import Connection
from typing import Any

from synth.solving.child_process import end_with_parent


def main() -> None:
    """Do jobs until the other end is closed, or memory ends."""
    end_with_parent()
    jobs_fd, answers_fd, mebibytes = map(int, sys.argv[1:])
    if mebibytes:
        resource.setrlimit(resource.RLIMIT_AS, (mebibytes * 2**20, mebibytes * 2**20))
    jobs, answers = Connection(jobs_fd, writable=False), Connection(answers_fd, readable=False)
    how = "done"
    while how != "died":
        try:
            how, value = _done(jobs, answers)
            answers.send((how, value))
        except (EOFError, BrokenPipeError):
            return  # nobody asks any more, or nobody waits for an answer


def _done(jobs: Connection, answers: Connection) -> tuple[str, Any]:
    try:
        do, job, seconds = jobs.recv()
        return "done", do(job, seconds, lambda so_far: answers.send(("so far", so_far)))
    except MemoryError:
        return "died", None
    except (EOFError, BrokenPipeError):
        raise
    except Exception as fault:
        return "failed", f"{type(fault).__name__}: {fault}"


if __name__ == "__main__":
    main()
