"""The process that tells what is shown of layouts: it compiles what that takes while a search runs, and can be killed.

Started by ``telling`` as ``python -m synth.verdict_worker JOBS ANSWERS``; takes (layout, rules, seconds, workers,
seed, questions) and answers with verdicts, until the other end is closed.
"""

from __future__ import annotations

import os
import sys
from multiprocessing.connection import Connection
from typing import Final

from sim.assure.asking import ask, warm_up
from sim.assure.request import Request
from synth.child_process import end_with_parent

MEBIBYTES: Final = 512
"""Memory of the search over all arrivals for one layout."""


def main() -> None:
    """Answer until nobody asks any more."""
    jobs_fd, answers_fd = map(int, sys.argv[1:])
    jobs, answers = Connection(jobs_fd, writable=False), Connection(answers_fd, readable=False)
    end_with_parent()
    os.nice(5)  # the search has the right of way
    warm_up()
    while True:
        try:
            layout, rules, seconds, workers, seed, questions = jobs.recv()
        except EOFError:
            return
        request = Request(seconds, MEBIBYTES, workers, seed, questions)
        answers.send(ask(layout, request, rules).verdicts)


if __name__ == "__main__":
    main()
