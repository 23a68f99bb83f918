"""Cross-sections: the wiring that each column of a wing has, all columns alike, of both rows at once.

In a *close* wing the lanes of one row are open to the other, so that four lanes do and its ends take fewer columns: the
cross-section is settled first, heads and tails are solved on it (design notes, "Halls").
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sim.world.geometry import Cell
from sim.world.parts import Inverter, Line, Part, Support
from synth.ask.spec import Face
from synth.hall.lanes import Lane, lane_of
from synth.schemes.burst_row import SCHEME as BURST_ROW
from synth.schemes.registry import scheme_named
from synth.schemes.scheme import Scheme
from synth.schemes.undrained_row import SCHEME as UNDRAINED_ROW


@dataclass(frozen=True, slots=True)
class Section:
    """The wiring of one column, at x = 0 of a wing, of the ``feed`` row and of the ``fuel`` row, which are of these
    ``schemes``. ``lead``: columns with a furnace that belong to the head. ``beside``: T0 of the fuel row stands beside
    T1. The fuel row leaves to the feed row the layers from ``layers`` on, and the cells ``kept`` of the head."""

    schemes: tuple[str, str]
    feed: tuple[Part, ...]
    fuel: tuple[Part, ...]
    lead: int
    beside: bool
    layers: int
    kept: frozenset[Cell]

    def stretch(self, face: Face) -> tuple[Part, ...]:
        """That of the row that feeds the face."""
        return self.feed if face == "top" else self.fuel

    def lane(self, face: Face) -> Lane:
        """Where that row runs."""
        return lane_of(face, self.beside)

    def scheme(self, face: Face) -> Scheme:
        """What that row is."""
        return scheme_named(self.schemes[0 if face == "top" else 1])


BURST: Final = Section(
    schemes=(BURST_ROW.name, BURST_ROW.name),
    feed=(Support((0, -1, 2)), Line((0, -1, 3)), Support((0, 2, 3)), Line((0, 2, 4))),
    fuel=(Inverter((0, 1, 0), "N"), Support((0, 2, 0)), Line((0, 2, 1))),
    lead=2,
    beside=True,
    layers=3,
    kept=frozenset({(-1, 1, 1), (-1, 1, 2)}),
)
"""Of two burst rows. The fuel row has one run, live when T0 is empty or TN holds, and an inverter below each B that is
lit while it is dead; that needs no signal from the other end, and the inverter holds up the product nodes too while the
row fills. The feed row has its lock run outside, and a run above the fuel row that carries word from T0 to TN; it
begins in the second column, as T0 of the fuel row stands in the first. T0 of the feed row is read from the side of the
fuel row: what bears the gauge stands in the cells that are kept."""

UNDRAINED: Final = Section(
    schemes=(UNDRAINED_ROW.name, UNDRAINED_ROW.name),
    feed=(Support((0, -1, 2)), Line((0, -1, 3))),
    fuel=(Support((0, 2, 1)), Line((0, 2, 2))),
    lead=1,
    beside=False,
    layers=4,
    kept=frozenset(),
)
"""Of two undrained rows: a lock run each, on either side, driven from the tail."""

UNDRAINED_BESIDE_BURST: Final = Section(
    schemes=(UNDRAINED_ROW.name, BURST_ROW.name),
    feed=UNDRAINED.feed,
    fuel=BURST.fuel,
    lead=2,
    beside=True,
    layers=BURST.layers,
    kept=BURST.kept,
)
"""Of an undrained row and a burst row: what each has in the two above. (Of a burst row beside an undrained one no ends
are known.)"""

SECTIONS: Final = (UNDRAINED, UNDRAINED_BESIDE_BURST, BURST)
"""Those with the fewest parts first."""
