"""Which pieces are wanted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from sim.world.rulebook import Rules
from synth.hall.lanes import End, Lane
from synth.hall.piece_question import Barred, Site
from synth.hall.pieces import RowPieces
from synth.hall.section import Section

ROOM: Final = Site(before=3, after=3, lanes=2)
"""The most that a head, a tail, the wiring beside a row may take."""
CLOSE_ROOM: Final = Site(before=3, after=3, lanes=1)
"""The same of a close wing."""


@dataclass(frozen=True, slots=True)
class PieceRequest:
    """Which pieces: of the row in ``lane``, of the scheme of that name, for worlds with these handovers.

    ``end``: where the product leaves. ``barred``: kinds of parts that must not stand in a cell of the wing. ``spare``:
    ticks that every way from a gauge to a lock leaves free, for relays in mid-run. ``like``: pieces for
    a request that bars less; stretch and columns are kept, if they can be. ``section``: of a close wing, whose stretch
    it gives. ``told`` is called with one line a stage.
    """

    lane: Lane
    scheme: str
    rules: Rules
    handovers: tuple[int, ...]
    end: End = "tail"
    barred: Barred = frozenset()
    room: Site = ROOM
    spare: int = 0
    like: RowPieces | None = None
    section: Section | None = None
    seed: int = 0
    told: Callable[[str], None] = field(default=lambda _: None)
