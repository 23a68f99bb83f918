"""A wing: one side's row of furnaces with its feed row, fuel row and product lane, in the coordinates of ``lanes``."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

from sim.world.geometry import Cell, Direction
from sim.world.parts import Finish, Holds, Node, Part
from synth.ask.spec import Face
from synth.hall.lanes import HEIGHT, STRAIGHT_ON, End, furnace, furnaces, product_lane, row_parts, straight_on
from synth.hall.pieces import RowPieces
from synth.model.images import Turn, turned_cell, turned_part
from synth.schemes.registry import scheme_named
from synth.search.known.gate import source_of


@dataclass(frozen=True, slots=True)
class Wing:
    """``n`` furnaces with two rows made of pieces; the product leaves at ``end``. ``holds``, ``finishes``: starting
    contents of the T nodes and labels of the source bins, by the face that the row feeds. ``gates``: the parts of the
    gate in front of the row that feeds that face, where it has one."""

    n: int
    feed: RowPieces
    fuel: RowPieces
    end: End
    holds: Mapping[Face, Holds] = field(default_factory=dict)
    finishes: Mapping[Face, Finish] = field(default_factory=dict)
    gates: Mapping[Face, tuple[Part, ...]] = field(default_factory=dict)

    @property
    def rows(self) -> tuple[RowPieces, RowPieces]:
        """Feed row and fuel row."""
        return self.feed, self.fuel

    @property
    def columns(self) -> range:
        """All columns of the wing: the rows' heads and tails, the product lane, the gates."""
        before = max(1 if self.end == "head" else 0, *(row.before for row in self.rows))
        after = max(1 if self.end == "tail" else 0, *(row.after for row in self.rows))
        beyond = [part.at[0] for placed in self.gates.values() for part in placed]
        return range(min(-before, *beyond, 0), max(self.n + after, *(x + 1 for x in beyond), 0))

    @property
    def depth(self) -> range:
        """All lanes of the wing."""
        return range(-self.feed.lanes, 2 + self.fuel.lanes)

    @property
    def height(self) -> int:
        """Layers of the wing."""
        return max([HEIGHT, *(part.at[2] + 1 for placed in self.gates.values() for part in placed)])

    @property
    def product(self) -> list[Cell]:
        """The product nodes in the order in which the product passes them; where it goes straight on, to the last
        column but one: in the last stands the product bin."""
        if self.goes_straight_on:
            return straight_on(self.n, self.columns[-1] - self.n)
        return product_lane(self.end, self.n, self.depth[-1])

    @property
    def goes_straight_on(self) -> bool:
        """The product leaves along the row."""
        return self.end == STRAIGHT_ON

    def source(self, face: Face) -> Cell:
        """The source bin of the row that feeds that face: that of its gate, where it has one."""
        if face in self.gates:
            return source_of(self.gates[face])
        row = self.feed if face == "top" else self.fuel
        return row.lane.source(scheme_named(row.scheme).first)

    def outputs(self) -> tuple[Cell, ...]:
        """The furnaces, in the order of the rows."""
        return tuple(furnace(i) for i in range(1, self.n + 1))

    def parts(self) -> Iterator[Part]:
        """Every part. Linear in n."""
        yield from furnaces(self.n)
        yield from self._product_nodes()
        for row in self.rows:
            holds, finish = self.holds.get(row.face, ()), self.finishes.get(row.face, "plain")
            yield from row_parts(row.lane, scheme_named(row.scheme), self.n, holds, finish)
            yield from row.wiring(self.n)
            yield from self.gates.get(row.face, ())

    def _product_nodes(self) -> Iterator[Part]:
        cells = self.product
        for here, there in pairwise(cells):
            yield Node(here, _toward(here, there))
        yield Node(cells[-1], "E" if self.goes_straight_on else "N")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a wing stands in the hall: turned, then moved. ``name`` tells its streams from those of the others."""

    wing: Wing
    turn: Turn
    offset: Cell
    name: str

    def cell(self, cell: Cell) -> Cell:
        """A cell of the wing in the hall."""
        x, y, z = turned_cell(cell, self.turn)
        return x + self.offset[0], y + self.offset[1], z + self.offset[2]

    def parts(self) -> Iterator[Part]:
        """The wing's parts where they stand in the hall."""
        move: Callable[[Cell], Cell] = self.cell
        return (turned_part(part, self.turn, move) for part in self.wing.parts())


def _toward(here: Cell, there: Cell) -> Direction:
    dx, dy = there[0] - here[0], there[1] - here[1]
    return "E" if dx > 0 else "W" if dx < 0 else "N" if dy > 0 else "S"


