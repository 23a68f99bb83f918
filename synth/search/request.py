"""How a search is to run, and who wants to know of it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from synth.confirm.proposal import Proposal
from synth.search.exact.ladder import Ladder
from synth.search.known.build import Store
from synth.search.known.cache import Cache
from synth.solving.parallel.work import Slots

Told = Callable[[str], None]
"""Called with one line on what is being done."""


@dataclass(slots=True)
class Request:
    """How a search is to run: K layouts, seconds in all, parallel workers, seed, and who wants to know.

    ``stores``: where known builds come from; ``cache``: where what is found is kept (None: nowhere). ``dominated``:
    layouts are listed too that another one is at least as good as in everything. ``nothing_s``: seconds after which the
    search ends if nothing was found by then (None: at its limit, like any other).
    ``slots``: where the searches' jobs are done (None: in ``workers`` processes on this machine).
    ``mebibytes``: bound on the memory of all workers together (0: none). ``ledger``: a file to keep what the exact
    search has come to, and to go on from (None: nowhere).
    ``found`` is called with each confirmed layout as it comes, ``ladder`` whenever the exact search has news; ``stop``
    ends the search and keeps what was found.
    """

    top: int = 3
    limit_s: float = 60.0
    workers: int = 2
    seed: int = 0
    mebibytes: int = 0
    ledger: Path | None = None
    stores: Sequence[Store] = ()
    cache: Cache | None = None
    slots: Slots | None = None
    dominated: bool = False
    nothing_s: float | None = None
    told: Told = field(default=lambda _: None)
    found: Callable[[Proposal], None] = field(default=lambda _: None)
    ladder: Callable[[Ladder], None] = field(default=lambda _: None)
    stop: threading.Event = field(default_factory=threading.Event)
