"""Which lines link and what a line points into (rulebook section 4), as literals."""

from __future__ import annotations

from functools import cached_property

from sim.world.geometry import HORIZONTAL, OPPOSITE, SIDES, Cell, Direction, step
from synth.model.clauses import Lit
from synth.model.vocabulary import LINE, Vocabulary


class Links:
    """Literals for links and pointing, made when first asked for."""

    def __init__(self, v: Vocabulary) -> None:
        self.v = v

    def link_up(self, cell: Cell, side: Direction) -> tuple[Lit, Cell]:
        """The line in ``cell`` links one step up on that side; with the cell of the other line.

        The cell below the other line is solid since every line is supported; the cell above ``cell`` must not be.
        """
        other = step(step(cell, side), "U")
        lit = self.v.clauses.both(self.v.is_(cell, LINE), self.v.is_(other, LINE), -self.v.is_solid(step(cell, "U")))
        return lit, other

    def link_down(self, cell: Cell, side: Direction) -> tuple[Lit, Cell]:
        """The line in ``cell`` links one step down on that side: the same link seen from above."""
        other = step(step(cell, side), "D")
        return self.link_up(other, OPPOSITE[side])[0], other

    def sloping(self, cell: Cell) -> list[tuple[Lit, Cell]]:
        """All links one step up or down from ``cell``."""
        return [
            (lit, other)
            for side in HORIZONTAL
            for lit, other in (self.link_up(cell, side), self.link_down(cell, side))
            if other in self.v.kind
        ]

    def level_neighbours(self, cell: Cell) -> list[Cell]:
        """The cells beside ``cell`` in which a line would link to a line here."""
        return [other for side in HORIZONTAL if (other := step(cell, side)) in self.v.kind]

    @cached_property
    def _connects(self) -> dict[tuple[Cell, Direction], Lit]:
        return {(cell, side): self._connection(cell, side) for cell in self.v.cells for side in HORIZONTAL}

    def _connection(self, cell: Cell, side: Direction) -> Lit:
        """What connects on that side, given a line here: a linked line, an inverter, a gauge, a relay in line."""
        v, beside = self.v, step(cell, side)
        gauges = [v.is_gauge(beside, d) for d in HORIZONTAL]
        relays = [v.is_relay(beside, side), v.is_relay(beside, OPPOSITE[side])]
        sloping = [self.link_up(cell, side)[0], self.link_down(cell, side)[0]]
        return v.clauses.any_of([v.is_(beside, LINE), *sloping, v.is_inverter(beside), *gauges, *relays])

    @cached_property
    def points_into(self) -> dict[tuple[Cell, Direction], Lit]:
        """The cell holds a line that points into that horizontal side."""
        v, connects = self.v, self._connects
        both, any_of = v.clauses.both, v.clauses.any_of
        return {
            (cell, side): both(
                v.is_(cell, LINE),
                any_of((connects[cell, side], both(*(-connects[cell, across] for across in SIDES[side])))),
            )
            for cell in v.cells
            for side in HORIZONTAL
        }
