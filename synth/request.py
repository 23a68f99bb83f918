"""How a search is to run, and who wants to know of it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field

from synth.result import Proposal

Told = Callable[[str], None]
"""Called with one line on what is being done."""


@dataclass(slots=True)
class Request:
    """How a search is to run: K layouts, seconds in all, parallel workers, seed, and who wants to know.

    ``found`` is called with each confirmed layout as it comes; ``stop`` ends the search and keeps what was found.
    """

    top: int = 3
    limit_s: float = 60.0
    workers: int = 2
    seed: int = 0
    told: Told = field(default=lambda _: None)
    found: Callable[[Proposal], None] = field(default=lambda _: None)
    stop: threading.Event = field(default_factory=threading.Event)
