"""What is shown of the layouts of a list, told by a process of its own beside the search (``verdict_worker``).

It is begun with the search, so that what has to be compiled is compiled in the meantime, and killed when the time is
over: verdicts that have not come by then are missing, and the layouts are shown without them.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from types import TracebackType
from typing import Final

from sim.assure.verdict import Question, Verdict
from synth.child_process import Child
from synth.request import Request
from synth.result import Proposal
from synth.spec import Spec

LISTED: Final[tuple[Question, ...]] = ("load", "drift", "gaps", "arrivals", "orders", "handover")
"""What is told of each layout in a list."""
POLL_S: Final = 0.05


class Teller:
    """The process. As a context manager it ends with the block."""

    def __init__(self) -> None:
        self._child = Child.running("synth.verdict_worker")

    def __enter__(self) -> Teller:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._child.kill()

    def told(self, proposals: Sequence[Proposal], spec: Spec, until: float, search: Request) -> list[Proposal]:
        """The proposals with what is shown of each under each known handover, as far as it comes before ``until`` (of
        ``time.monotonic``) or Ctrl-C."""
        found: list[Proposal] = []
        over = False
        for rank, proposal in enumerate(proposals, 1):
            share = (until - time.monotonic()) / (len(proposals) - len(found))
            search.told(f"what is shown of layout {rank}?")
            asked = (proposal.layout, spec.rules, max(0.1, share), search.workers, search.seed, LISTED)
            over = over or not self._send(asked)
            while not (over or self._child.answers.poll(POLL_S)):
                over = time.monotonic() >= until or search.stop.is_set()
            verdicts = None if over else self._received()
            over = verdicts is None
            found.append(replace(proposal, verdicts=verdicts or ()))
        return found

    def _send(self, asked: object) -> bool:
        try:
            self._child.jobs.send(asked)
        except OSError:  # it has died, for want of memory
            return False
        return True

    def _received(self) -> tuple[Verdict, ...] | None:
        try:
            return tuple(self._child.answers.recv())
        except (EOFError, OSError):
            return None
