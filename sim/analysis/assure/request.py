"""How long, how much and with whom: the limits that the questions are asked under."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from sim.analysis.assure.verdict import QUESTIONS, Question


@dataclass(slots=True)
class Request:
    """``limit_s``: seconds in all; ``mebibytes``: for the search over arrivals, all of it together; ``workers``: how
    many threads; ``seed``: of what is tried at random; ``questions``: which ones are asked.

    ``told`` is called with a line on what is being done, ``stop`` ends it and keeps the verdicts so far.
    """

    limit_s: float = 120.0
    mebibytes: int = 1024
    workers: int = 2
    seed: int = 0
    questions: tuple[Question, ...] = QUESTIONS
    told: Callable[[str], None] = field(default=lambda _: None)
    stop: threading.Event = field(default_factory=threading.Event)
    began: float = field(default_factory=time.monotonic)

    def left(self) -> float:
        """Seconds that are left."""
        return self.limit_s - (time.monotonic() - self.began)

    def share(self, part: float) -> Request:
        """The same, with that part of the seconds that are left."""
        return replace(self, limit_s=self.limit_s - self.left() * (1 - part))

    def is_over(self) -> bool:
        """Time is up, or somebody wants it to end."""
        return self.stop.is_set() or self.left() <= 0
