"""How a search for the fewest changes is to run."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

MOST: Final = 24
"""Cost up to which the model is asked for lists, unless a request says otherwise; of lists that make a build like one
that is known any will do then."""


@dataclass(slots=True)
class Request:
    """``limit_s``: seconds in all. ``most``: highest cost of a list (None: ``MOST``). ``both``: every trial under all
    known handovers.

    ``scheme``: the name of the one to be used (None: any that serves). ``room``: free cells around the build, on each
    side and above (None: none, and one where that proves too tight). ``prices``: cost of a part that comes into a cell,
    by kind, where it is not 1; taking one away without another in its stead costs 1.
    """

    limit_s: float = 60.0
    most: int | None = None
    both: bool = False
    scheme: str | None = None
    room: int | None = None
    prices: Mapping[str, int] = field(default_factory=dict)
    seed: int = 0
    told: Callable[[str], None] = lambda _: None
    stop: threading.Event = field(default_factory=threading.Event)

    @property
    def highest(self) -> int:
        """The highest cost of a list that the model is asked for."""
        return MOST if self.most is None else self.most
