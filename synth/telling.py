"""What is shown of the layouts of a list, told by a process of its own beside the search (``verdict_worker``).

It is begun with the search, so that what has to be compiled is compiled in the meantime, and killed when the time is
over: verdicts that have not come by then are missing, and the layouts are shown without them.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from dataclasses import replace
from types import TracebackType
from typing import Final

from sim.assure.verdict import Question, Verdict
from sim.layout import Layout
from synth.child_process import Child
from synth.request import Request
from synth.result import Proposal
from synth.spec import Spec

LISTED: Final[tuple[Question, ...]] = ("load", "drift", "gaps", "arrivals", "orders", "handover")
"""What is told of each layout in a list."""
SPARE_S: Final = 0.3
"""Kept for what was answered to come through."""
NOTED_S: Final = 30.0
"""Seconds for a layout that is asked about while the search goes on."""
POLL_S: Final = 0.05


class Teller:
    """The process. As a context manager it ends with the block. While a search runs it is asked about layouts as they
    come (``note``), so that in the end there is little left to ask."""

    def __init__(self, spec: Spec, search: Request, until: float) -> None:
        self._spec, self._search, self._until = spec, search, until
        self._child = Child.running("synth.verdict_worker")
        self._lock = threading.Lock()
        self._asked: list[Layout] = []
        self._told: list[tuple[Layout, tuple[Verdict, ...]]] = []
        self._dead = False

    def __enter__(self) -> Teller:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._child.kill()

    def note(self, proposal: Proposal) -> None:
        """A layout that may be in the list; asked about, if nothing else is being asked (from any thread)."""
        with self._lock:
            self._take(0.0)
            if not self._asked:
                self._ask(proposal.layout, min(NOTED_S, self._until - time.monotonic() - SPARE_S))

    def told(self, proposals: Sequence[Proposal]) -> list[Proposal]:
        """The proposals with what is shown of each under each known handover, as far as it comes before the end (of
        ``time.monotonic``, as given) or Ctrl-C."""
        found: list[Proposal] = []
        with self._lock:
            if not all(any(layout == one.layout for one in proposals) for layout in self._asked):
                self._child.kill()  # nobody wants to know that any more
                self._child, self._asked = Child.running("synth.verdict_worker"), []
        for rank, proposal in enumerate(proposals, 1):
            self._search.told(f"what is shown of layout {rank}?")
            share = (self._until - time.monotonic() - SPARE_S) / (len(proposals) - len(found))
            with self._lock:
                found.append(replace(proposal, verdicts=self._of(proposal.layout, share)))
        return found

    def _of(self, layout: Layout, share: float) -> tuple[Verdict, ...]:
        while not (self._dead or self._search.stop.is_set()):
            known = next((verdicts for one, verdicts in self._told if one == layout), None)
            if known is not None:
                return known
            if layout not in self._asked:
                self._ask(layout, share)
            if time.monotonic() >= self._until:
                break
            self._take(POLL_S)
        return ()

    def _ask(self, layout: Layout, seconds: float) -> None:
        asked = (layout, self._spec.rules, max(0.1, seconds), self._search.workers, self._search.seed, LISTED)
        try:
            self._child.jobs.send(asked)
            self._asked.append(layout)
        except OSError:  # it has died, for want of memory
            self._dead = True

    def _take(self, wait_s: float) -> None:
        """The answers that have come."""
        try:
            while self._asked and self._child.answers.poll(wait_s):
                self._told.append((self._asked.pop(0), tuple(self._child.answers.recv())))
        except (EOFError, OSError):
            self._dead = True
