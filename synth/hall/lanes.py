"""The lanes of a wing: where the furnaces, nodes and bins of one feed row, one fuel row and one product lane stand.

Coordinates of a wing: furnace i of n stands at x = i - 1; x < 0 is the head, x >= n the tail. y = 0 is the lane of the
furnaces with the feed row above them, y = 1 that of the fuel row beside them; further lanes carry wiring: of the feed
row on the side of y < 0, of the fuel row on that of y > 1. z counts from the ground. The product lane lies on the
ground under the furnaces and all along the wing.

In a *close* wing (``section``) all lanes are open to the wiring of both rows, T0 of the fuel row stands beside T1, so
that T0 of the feed row can be read from that side, and the product goes straight on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from sim.world.geometry import Cell, Direction
from sim.world.parts import Bin, Finish, Furnace, Holds, Node, Part
from synth.ask.spec import Face
from synth.schemes.scheme import Scheme

FURNACE_LAYER: Final = 1
PRODUCT_LAYER: Final = 0
End = Literal["head", "tail", "straight on"]
"""Of a wing, where the product leaves: at the end where the sources are, at the other one, each time across the lanes
of the fuel row; or at that other one, but straight on."""
STRAIGHT_ON: Final[End] = "straight on"
HEIGHT: Final = 5
"""Layers of a wing: product nodes, furnaces, B of the feed row, its T, its bin."""


@dataclass(frozen=True, slots=True)
class Lane:
    """Where the row of one stream runs. ``y``: its lane; ``wiring``: the direction in which its wiring lanes lie;
    ``layer`` of its T nodes; ``outlet`` of its B nodes; ``beside``: T0 stands beside T1, on the side of the wiring."""

    face: Face
    y: int
    wiring: int
    layer: int
    outlet: Direction
    beside: bool = False

    def node(self, number: int) -> Cell:
        """T of that number."""
        if number == 0 and self.beside:
            return 0, self.y + self.wiring, self.layer
        return number - 1, self.y, self.layer

    def onward(self, number: int) -> Direction:
        """The outlet of that T."""
        return ("S" if self.wiring > 0 else "N") if number == 0 and self.beside else "E"

    def drop(self, number: int) -> Cell:
        """B of that number."""
        return number - 1, self.y, self.layer - 1

    def source(self, first: int) -> Cell:
        """The source bin above the first T."""
        x, y, z = self.node(first)
        return x, y, z + 1


FEED: Final = Lane("top", 0, -1, 3, "D")
FUEL: Final = Lane("side", 1, 1, 2, "S")
FUEL_BESIDE: Final = Lane("side", 1, 1, 2, "S", beside=True)
"""That of a close wing."""
LANES: Final[Mapping[Face, Lane]] = {"top": FEED, "side": FUEL}


def lane_of(face: Face, beside: bool) -> Lane:
    """The lane of the row that feeds that face."""
    return FUEL_BESIDE if beside and face == FUEL.face else LANES[face]


def other(lane: Lane) -> Lane:
    """The other row of the wing."""
    return FUEL if lane.face == FEED.face else FEED


def furnace(number: int) -> Cell:
    """The furnace of that number."""
    return number - 1, 0, FURNACE_LAYER


def row_parts(lane: Lane, scheme: Scheme, n: int, holds: Holds = (), finish: Finish = "plain") -> Iterator[Part]:
    """Bin, T and B nodes of a row of n; each T starts with ``holds``."""
    yield Bin(lane.source(scheme.first), finish)
    for i in scheme.numbers("T", n):
        yield Node(lane.node(i), lane.onward(i), holds)
    for i in scheme.numbers("B", n):
        yield Node(lane.drop(i), lane.outlet)


def furnaces(n: int) -> Iterator[Part]:
    """The furnaces of a wing of n."""
    return (Furnace(furnace(i)) for i in range(1, n + 1))


def product_lane(end: End, n: int, last: int) -> list[Cell]:
    """The cells of the product nodes in the order in which the product passes them: under the furnaces, one column
    beyond their ``end``, then across the lanes of the fuel row to y = ``last``."""
    under = [(x, 0, PRODUCT_LAYER) for x in range(n)]
    exit_x = -1 if end == "head" else n
    across = [(exit_x, y, PRODUCT_LAYER) for y in range(last + 1)]
    return (under[::-1] if end == "head" else under) + across


def straight_on(n: int, after: int) -> list[Cell]:
    """The same where the product goes straight on, to the last of ``after`` columns behind the furnaces, where it comes
    out or the product bin stands."""
    return [(x, 0, PRODUCT_LAYER) for x in range(n + after)]


def beside_the_bin(n: int, after: int) -> Cell:
    """The cell beside that last one, through which the product of a wing that faces this one comes to the bin."""
    return n + after - 1, 1, PRODUCT_LAYER


def standing(lane: Lane, n: int, end: End, last: int) -> Iterator[tuple[Cell, Literal["node", "bin"]]]:
    """The containers of other rows that the wiring of ``lane`` has to live with, whatever scheme the other row has."""
    yield from ((cell, "node") for cell in product_lane(end, n, last))
    yield from containers(other(lane), n)


def containers(lane: Lane, n: int) -> Iterator[tuple[Cell, Literal["node", "bin"]]]:
    """Those of one row, the source bin wherever it may be."""
    yield from ((lane.source(first), "bin") for first in ((0,) if lane.beside else (0, 1)))
    yield from ((lane.node(i), "node") for i in range(n + 1))
    yield from ((lane.drop(i), "node") for i in range(1, n + 1))
