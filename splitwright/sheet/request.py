"""What a sheet is made from, and what may be spent on it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from sim.world.geometry import Cell
from sim.world.rulebook import Rulebook, load_rulebook
from splitwright.words import Words, english

if TYPE_CHECKING:
    from sim.analysis.assure.verdict import Verdict
    from splitwright.cli.trial_input import Task

REPLAY_BYTES: Final = 500_000
"""Size of the record of the trial that a page is given."""


@dataclass(frozen=True, slots=True)
class SheetRequest:
    """``prices``: of one part, by kind (empty: none are known). ``rulebook``: the one that the layout overrides.

    ``limit_s``: seconds for the questions when the split is even (0: they are not asked). ``verdicts``: answers that
    there are already, in place of asking. ``task``: the trial that is shown (None: the default load). ``blocked``:
    cells of the site that are taken. ``told`` is called with a line on what is being done; ``stop`` ends the questions.
    """

    words: Words = field(default_factory=english)
    prices: Mapping[str, int] = field(default_factory=dict)
    rulebook: Rulebook = field(default_factory=load_rulebook)
    limit_s: float = 30.0
    verdicts: tuple[Verdict, ...] | None = None
    task: Task | None = None
    workers: int = 1
    seed: int = 0
    replay_bytes: int = REPLAY_BYTES
    blocked: Collection[Cell] = ()
    told: Callable[[str], None] = field(default=lambda _: None)
    stop: threading.Event = field(default_factory=threading.Event)
