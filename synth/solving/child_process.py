"""A process of our own with a pipe in each direction: what solves and cannot be asked to stop is run in one and killed.

The module that it runs takes the two file descriptors as its first arguments, jobs first.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import IO, Final

WATCH_S: Final = 1.0
ENDING_S: Final = 1.0
"""Within which a process ends that has closed its pipes."""
COMPLAINT_MOST: Final = 4_000
"""Bytes of what a process complained of last that are looked at."""


def end_with_parent() -> None:
    """In a child: end when whoever started it has gone, in whatever way, at the next moment that Python has."""
    parent = os.getppid()

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(WATCH_S)
        os._exit(0)

    threading.Thread(target=watch, daemon=True).start()


@dataclass(frozen=True, slots=True, eq=False)
class Child:
    """The process, and this side's ends of its pipes; ``complaints``: what it writes to its standard error."""

    process: subprocess.Popen[bytes]
    jobs: Connection
    answers: Connection
    complaints: IO[bytes]

    @classmethod
    def running(cls, module: str, *arguments: str) -> Child:
        """Start ``python -m module JOBS ANSWERS arguments...``, deaf to the terminal and to Ctrl-C."""
        child_jobs, jobs = os.pipe()
        answers, child_answers = os.pipe()
        complaints = tempfile.TemporaryFile()  # noqa: SIM115 (closed with the rest)
        process = subprocess.Popen(
            [sys.executable, "-m", module, str(child_jobs), str(child_answers), *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=complaints,
            pass_fds=(child_jobs, child_answers),
            start_new_session=True,  # Ctrl-C is for the one who asked
            env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
        )
        os.close(child_jobs)
        os.close(child_answers)
        return cls(process, Connection(jobs, readable=False), Connection(answers, writable=False), complaints)

    def ended(self) -> tuple[int, str]:
        """Of one that has gone by itself: its exit status (below 0: the signal that killed it), and what it complained
        of last. The pipes are closed."""
        with suppress(subprocess.TimeoutExpired):
            self.process.wait(ENDING_S)
        status = self.process.poll()
        self.complaints.seek(max(0, self.complaints.seek(0, os.SEEK_END) - COMPLAINT_MOST))
        complaint = self.complaints.read().decode(errors="replace")
        self.kill()
        return (0 if status is None else status), complaint

    def kill(self) -> None:
        """End it, and close the pipes."""
        self.process.kill()
        self.process.wait()
        self.jobs.close()
        self.answers.close()
        self.complaints.close()
