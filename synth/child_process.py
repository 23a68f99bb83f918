"""A process of our own with a pipe in each direction: what solves and cannot be asked to stop is run in one and killed.

The module that it runs takes the two file descriptors as its first arguments, jobs first.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Final

WATCH_S: Final = 1.0


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
    """The process, and this side's ends of its pipes."""

    process: subprocess.Popen[bytes]
    jobs: Connection
    answers: Connection

    @classmethod
    def running(cls, module: str, *arguments: str) -> Child:
        """Start ``python -m module JOBS ANSWERS arguments...``, deaf to the terminal and to Ctrl-C."""
        child_jobs, jobs = os.pipe()
        answers, child_answers = os.pipe()
        process = subprocess.Popen(
            [sys.executable, "-m", module, str(child_jobs), str(child_answers), *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            pass_fds=(child_jobs, child_answers),
            start_new_session=True,  # Ctrl-C is for the one who asked
            env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
        )
        os.close(child_jobs)
        os.close(child_answers)
        return cls(process, Connection(jobs, readable=False), Connection(answers, writable=False))

    def kill(self) -> None:
        """End it, and close the pipes."""
        self.process.kill()
        self.process.wait()
        self.jobs.close()
        self.answers.close()
