"""What is shown of the layouts of a list, told by a process of its own beside the search (``verdict_worker``).

It is begun with the search, so that what has to be compiled is compiled in the meantime, and killed when the time is
over: verdicts that have not come by then are missing, and the layouts are shown without them.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from types import TracebackType
from typing import Final

from sim.analysis.assure.verdict import Question, Verdict
from sim.world.layout import Layout
from synth.answer.verdict_worker import VERDICTS, Asked
from synth.ask.spec import Spec
from synth.confirm.proposal import Proposal
from synth.search.request import Request
from synth.solving.parallel.engine import Engine
from synth.solving.parallel.processes import Processes

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
        self._engine = Engine(VERDICTS, Processes(1))
        self._share = self._engine.share()
        self._lock = threading.Lock()
        self._asked: list[_Question] = []
        self._ask(None, 0.0)

    def __enter__(self) -> Teller:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._engine.__exit__(kind, error, trace)

    def note(self, proposal: Proposal) -> None:
        """A layout that may be in the list; asked about, if nothing else is being asked (from any thread)."""
        with self._lock:
            if all(one.layout is None or one.verdicts(0.0) is not None for one in self._asked):
                self._ask(proposal.layout, min(NOTED_S, self._until - time.monotonic() - SPARE_S))

    def told(self, proposals: Sequence[Proposal]) -> list[Proposal]:
        """The proposals with what is shown of each under each known handover, as far as it comes before the end (of
        ``time.monotonic``, as given) or Ctrl-C."""
        found: list[Proposal] = []
        with self._lock:
            for one in self._asked:
                if one.layout is not None and all(one.layout != other.layout for other in proposals):
                    one.stop.set()  # nobody wants to know that any more
        for rank, proposal in enumerate(proposals, 1):
            self._search.told(f"what is shown of layout {rank}?")
            share = (self._until - time.monotonic() - SPARE_S) / (len(proposals) - len(found))
            found.append(replace(proposal, verdicts=self._of(proposal.layout, share)))
        return found

    def _of(self, layout: Layout, share: float) -> tuple[Verdict, ...]:
        with self._lock:
            asked = next((one for one in self._asked if one.layout == layout), None) or self._ask(layout, share)
        while not self._search.stop.is_set() and time.monotonic() < self._until:
            if (verdicts := asked.verdicts(POLL_S)) is not None:
                return tuple(verdicts)
        return ()

    def _ask(self, layout: Layout | None, seconds: float) -> _Question:
        asked = Asked(
            layout, self._spec.rules, max(0.1, seconds), self._search.workers, self._search.seed, LISTED
        )
        stop = threading.Event()
        self._asked.append(_Question(layout, stop, self._share.submit(asked, stop, math.inf)))
        return self._asked[-1]


@dataclass(frozen=True, slots=True)
class _Question:
    """``verdicts``: waits so many seconds for them."""

    layout: Layout | None
    stop: threading.Event
    verdicts: Callable[[float], Sequence[Verdict] | None]
