"""The pieces of a row: the wiring of its head, of one stretch, and of its tail, to be joined to a row of any length."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Final

from sim.world.geometry import Cell
from sim.world.parts import Part
from synth.ask.spec import Face
from synth.hall.lanes import Lane, lane_of

WIRING = ("support", "line", "inverter", "relay", "gauge")
FEWEST: Final = "fewest (proved)"
BEST: Final = "best found"


@dataclass(frozen=True, slots=True)
class PieceClaim:
    """What was shown of one piece. ``piece``: which; ``text``: of what the figure is the least, or that it is only the
    best found; ``scope``: among which builds, within the limits of all pieces of the row (``RowPieces.scope_of``)."""

    piece: str
    text: str
    proved: bool
    seconds: float
    scope: str

    def unproved(self) -> PieceClaim:
        """The same figure where the proof does not count: it was made with other code or under other numbers."""
        return replace(self, text=self.text.replace(FEWEST, BEST), proved=False)


@dataclass(frozen=True, slots=True)
class RowPieces:
    """The wiring of one row in the coordinates of a wing.

    ``before``: columns of the head (x from -before to lead - 1), ``after``: those of the tail. The first ``lead``
    columns with a furnace belong to the head. ``head``: where it stands; ``stretch``: at x = 0; ``tail``: with x
    counted from the first column behind the last furnace. ``lanes``: wiring lanes beside the row.
    ``reach``: furnaces of the longest row that works without relays in mid-run; ``longest``: with them. ``relay``: a
    stretch of ``relay_width`` columns with relays, in which runs get their full level anew (none: not found).
    ``beside``: T0 stands beside T1 (``lanes``). ``limits``: what every claim is about, beside what it says itself
    (``piece_scope``).
    """

    face: Face
    scheme: str
    lanes: int
    before: int
    after: int
    lead: int
    head: tuple[Part, ...]
    stretch: tuple[Part, ...]
    tail: tuple[Part, ...]
    relay: tuple[Part, ...] = ()
    relay_width: int = 0
    reach: int = 0
    longest: int = 0
    claims: tuple[PieceClaim, ...] = ()
    limits: tuple[str, ...] = field(default=(), compare=False)
    beside: bool = False

    @property
    def lane(self) -> Lane:
        """Where the row runs."""
        return lane_of(self.face, self.beside)

    def scope_of(self, claim: PieceClaim) -> str:
        """Among which builds the claim holds."""
        return "; ".join([claim.scope, *self.limits])

    def wiring(self, n: int) -> Iterator[Part]:
        """All wiring of a row of n furnaces. Linear in n."""
        yield from self.head
        x, relays = self.lead, self.relays_at(n)
        while x < n:
            here = x in relays
            yield from shifted(self.relay if here else self.stretch, (x, 0, 0))
            x += self.relay_width if here else 1
        yield from shifted(self.tail, (n, 0, 0))

    def relays_at(self, n: int) -> list[int]:
        """Where stretches with relays begin: as few as there must be, and evenly spread."""
        if not self.relay or n <= self.reach:
            return []
        few = -(-n // self.reach) - 1
        room = n - self.lead
        return [self.lead + room * i // (few + 1) - self.relay_width // 2 for i in range(1, few + 1)]


def shifted(parts: Iterable[Part], by: Cell) -> Iterator[Part]:
    """The parts moved."""
    dx, dy, dz = by
    return (replace(part, at=(part.at[0] + dx, part.at[1] + dy, part.at[2] + dz)) for part in parts)
