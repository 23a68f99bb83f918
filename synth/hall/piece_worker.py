"""The process that solves one request for pieces: ``python -m synth.hall.piece_worker READ WRITE`` (file descriptors).

It reads (request, seconds), writes lines on what it does, and at last the pieces, None, or the fault that ended it.
"""

from __future__ import annotations

import signal
import sys
from dataclasses import replace
from multiprocessing.connection import Connection

from synth.budget import Budget
from synth.hall.lengths import with_lengths
from synth.hall.piece_search import find_pieces


def main(read: int, write: int) -> None:
    """Solve one request."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the one who asked
    request, seconds = Connection(read, writable=False).recv()
    answers, budget = Connection(write, readable=False), Budget(seconds)
    asked = replace(request, told=answers.send)
    try:
        pieces = find_pieces(asked, budget)
        answers.send(None if pieces is None else with_lengths(pieces, asked, budget))
    except BrokenPipeError:
        return  # nobody waits for an answer any more
    except Exception as fault:
        answers.send(RuntimeError(f"{type(fault).__name__}: {fault}"))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
