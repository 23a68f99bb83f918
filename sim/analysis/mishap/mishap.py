"""What a mishap is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.world.geometry import Cell
from sim.world.statement import Statement

MishapKind = Literal["uneven", "nothing", "unrest", "left"]


@dataclass(frozen=True, slots=True)
class Mishap:
    """What went wrong with a stream.

    ``kind``: *uneven*: in ``tick`` the container ``at`` took an item out of turn, and from then on the split was never
    level again (``sim.analysis.mishap.turns``); *nothing*: there were items, but none came to an output; *unrest*: the
    run does not come to rest; *left*: even, but more items stay in nodes than they started with. For these three
    ``tick`` is that of the last move of such an item (for *unrest* the last tick), and ``at`` what holds most of them
    (or what goes on changing).

    ``statements``: what the recording shows of it, the first one on its own a full answer; no more than it shows.
    """

    stream: str
    tick: int
    at: Cell
    statements: tuple[Statement, ...]
    kind: MishapKind
