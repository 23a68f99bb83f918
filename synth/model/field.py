"""The signal field of one row of the truth table (rulebook section 4, "Definitions"), causes both ways.

A full source delivers the full level, a gauge what the watched node reads (1 in practice: a few items in a node read
1). Where the scheme reads full nodes only, every gauge has a side input of the full level in every row: it delivers the
full level or nothing. Levels of lines are order-encoded:
``at_least[cell][k]``. A level needs a neighbour one higher, so no run can hold itself up and the least solution is the
only one.
"""

from __future__ import annotations

from collections.abc import Mapping

from sim.world.geometry import HORIZONTAL, OPPOSITE, SIDES, Cell, Direction, neighbours, step
from sim.world.parts import MOUNTS, OUTPUTS
from synth.model.clauses import FALSE, TRUE, Lit
from synth.model.links import Links
from synth.model.vocabulary import LINE, Vocabulary, back, gauge, inverter

Reads = Mapping[tuple[int, str], int]
"""For each stream and label of gauges: what the watched nodes read (where full ones alone are read: 0 for less)."""


class RowField:
    """The variables of one row: what is on, strong, energised, and the levels."""

    def __init__(self, v: Vocabulary, links: Links) -> None:
        self.v, self.links = v, links
        new, cells = v.clauses.new, v.cells
        self.levels = range(1, v.question.levels + 1)
        self._top = self.levels[-1]
        self._base = min(v.question.reading, self._top)  # what a gauge reads of a node that holds anything
        self._reads: Reads = {}
        self._delivered: list[int] = []  # levels that gauges of this row deliver, the lowest first
        self._lows: list[int] = []  # those below the full one
        self._inverter = {c: new() for c in cells}
        self._relay = {(c, d): new() for c in cells for d in OUTPUTS}
        self._gauge = {(c, d): new() for c in cells for d in OUTPUTS}
        self._strong_full = {c: new() for c in cells}
        self._strong_low = {(c, self._base): new() for c in cells}
        self._delivers: dict[tuple[Cell, Direction, int], Lit] = {}
        self._energised = {c: new() for c in cells}
        self._at_least = {(c, k): new() for c in cells for k in self.levels}
        self._into = {
            (c, d): v.clauses.both(links.points_into[c, d], self._at_least[c, 1]) for c in cells for d in HORIZONTAL
        }

    def lit(self, cell: Cell) -> Lit:
        """A lit inverter stands in the cell."""
        return self._inverter.get(cell, FALSE)

    def relay_on(self, cell: Cell, output: Direction) -> Lit:
        """A relay with that output that is on."""
        return self._relay.get((cell, output), FALSE)

    def gauge_on(self, cell: Cell, output: Direction) -> Lit:
        """A gauge with that output above 0."""
        return self._gauge.get((cell, output), FALSE)

    def energised(self, cell: Cell) -> Lit:
        """A solid cell that is energised. (The ground below a line is, but no part can read it.)"""
        return self._energised.get(cell, FALSE)

    def at_least(self, cell: Cell, level: int) -> Lit:
        """A line whose level is at least that."""
        return self._at_least.get((cell, level), FALSE)

    def points_live_into(self, cell: Cell, side: Direction) -> Lit:
        """A line above level 0 that points into that side."""
        return self._into.get((cell, side), FALSE)

    def inputs_of_relay(self, cell: Cell, output: Direction) -> list[Lit]:
        """Signal behind: an energised cell, a line above 0, a lit inverter, a relay or gauge facing the same way."""
        behind = back(cell, output)
        return [
            self.energised(behind),
            self.at_least(behind, 1),
            self.lit(behind),
            self.relay_on(behind, output),
            self.gauge_on(behind, output),
        ]

    def gauge_delivers(self, cell: Cell, output: Direction, level: int) -> Lit:
        """A gauge with that output that delivers just that level, one of those that gauges of this row deliver."""
        if self._delivered == [level]:
            return self.gauge_on(cell, output)
        return self._delivers.get((cell, output, level), FALSE)

    def high_side_inputs(self, cell: Cell, output: Direction, reading: int) -> list[Lit]:
        """Side inputs above a reading that is not the full level: a line of a higher level, or a relay that is on or a
        gauge that delivers more and faces the gauge."""
        found = []
        for side in SIDES[output]:
            other, facing = step(cell, side), OPPOSITE[side]
            found += [self.at_least(other, reading + 1), self.relay_on(other, facing)]
            found += [self.gauge_delivers(other, facing, level) for level in self._delivered if level > reading]
        return found

    def full_side_inputs(self, cell: Cell, output: Direction) -> list[Lit]:
        """Side inputs of the full level: of a line, or a relay that is on or a gauge above 0 that faces the gauge."""
        found = []
        for side in SIDES[output]:
            other, facing = step(cell, side), OPPOSITE[side]
            found += [
                self.at_least(other, self.levels[-1]), self.relay_on(other, facing), self.gauge_on(other, facing)
            ]  # fmt: skip
        return found

    def lock_causes(self, cell: Cell) -> list[Lit]:
        """What would lock a node in the cell."""
        around = neighbours(cell)
        facing = [(back(cell, d), d) for d in HORIZONTAL]
        return [
            *(self.energised(q) for q in around),
            *(self.lit(c) for c in around),
            *(self.relay_on(c, d) for c, d in facing),
            *(self.gauge_on(c, d) for c, d in facing),
            *(self.points_live_into(c, d) for c, d in facing),
        ]

    # -- the laws -----------------------------------------------------------------------------------------------------

    def state(self, reads: Reads) -> None:
        """Tie every part, solid and line of this row to its causes."""
        self._reads = reads
        base = self._top if self.v.question.scheme.reads_full else self._base
        self._delivered = sorted({base, *reads.values()} - {0})
        self._lows = [level for level in self._delivered if level < self._top]
        new, cells = self.v.clauses.new, self.v.cells
        self._strong_low |= {(c, level): new() for level in self._lows if level != self._base for c in cells}
        if len(self._delivered) > 1:
            self._delivers = {
                (c, d, level): self.v.clauses.both(self._gauge[c, d], self.v.clauses.any_of(self._reading(c, d, level)))
                for c in cells for d in OUTPUTS for level in self._delivered
            }  # fmt: skip
        for cell in self.v.cells:
            self._inverter_law(cell)
            for output in OUTPUTS:
                self._relay_law(cell, output)
                self._gauge_law(cell, output)
            self._strong_law(cell)
            self._energised_law(cell)
            self._level_law(cell)

    def _inverter_law(self, cell: Cell) -> None:
        """lit = mount cell not energised."""
        v, on = self.v, self._inverter[cell]
        v.clauses.add(-on, v.is_inverter(cell))
        for mount in MOUNTS:
            here, energised = v.is_(cell, inverter(mount)), self.energised(step(cell, mount))
            v.clauses.add(-here, -energised, -on)
            v.clauses.add(-here, energised, on)

    def _relay_law(self, cell: Cell, output: Direction) -> None:
        """on = signal behind."""
        self._given(self._relay[cell, output], self.v.is_relay(cell, output), self.inputs_of_relay(cell, output))

    def _gauge_law(self, cell: Cell, output: Direction) -> None:
        """above 0 = the node read holds something and no side input is above the reading."""
        v, on = self.v, self._gauge[cell, output]
        if v.question.scheme.reads_full:
            v.clauses.add(-v.is_gauge(cell, output), *self.full_side_inputs(cell, output))
        v.clauses.add(-on, *(here for level in self._delivered for here in self._reading(cell, output, level)))
        for level in self._delivered:
            # no side input is above a full reading, and one of the full level is above any other
            high = [] if level == self._top else self.high_side_inputs(cell, output, level)
            reading = self._reading(cell, output, level)
            for side in high:
                for here in reading if len(self._delivered) > 1 else [TRUE]:
                    v.clauses.implies((here, on), -side)
            for here in reading:
                v.clauses.add(-here, on, *high)

    def _reading(self, cell: Cell, output: Direction, level: int) -> list[Lit]:
        """Gauges in the cell that read that level."""
        v = self.v
        return [v.is_(cell, gauge(output, s, end)) for (s, end), read in self._reads.items() if read == level]

    def _strong_law(self, cell: Cell) -> None:
        """strong(q): full from a relay in whose front q is or an inverter directly below q; a reading from a
        gauge."""
        solid, feeding = self.v.is_solid(cell), [(back(cell, d), d) for d in HORIZONTAL]
        full = [*(self.relay_on(c, d) for c, d in feeding), self.lit(step(cell, "D")), *self._fed(feeding, self._top)]
        self._given(self._strong_full[cell], solid, full)
        for level in self._feeble():
            self._given(self._strong_low[cell, level], solid, self._fed(feeding, level) if level in self._lows else [])

    def _feeble(self) -> list[int]:
        """Levels below the full one of which solids are told apart; what any item reads is always among them."""
        return [self._base, *(level for level in self._lows if level != self._base)]

    def _fed(self, feeding: list[tuple[Cell, Direction]], level: int) -> list[Lit]:
        """Gauges that deliver that level."""
        if level not in self._delivered:
            return []
        return [self.gauge_delivers(c, d, level) for c, d in feeding]

    def _energised_law(self, cell: Cell) -> None:
        """energised: strong, or weak by a line on top or one that points into the cell."""
        weak = [self.at_least(step(cell, "U"), 1), *(self.points_live_into(back(cell, d), d) for d in HORIZONTAL)]
        causes = [self._strong_full[cell], *(self._strong_low[cell, level] for level in self._feeble()), *weak]
        self._given(self._energised[cell], self.v.is_solid(cell), causes)

    def _level_law(self, cell: Cell) -> None:
        """level(p): fed in full, fed a reading by a gauge, or one less than a linked line."""
        line, top = self.v.is_(cell, LINE), self._top
        feeding = [(back(cell, d), d) for d in HORIZONTAL]
        full = [
            *(self.relay_on(c, d) for c, d in feeding),
            *(self.lit(c) for c in neighbours(cell)),
            *(self._strong_full.get(q, FALSE) for q in neighbours(cell)),
        ]
        full += self._fed(feeding, top)
        low = {
            level: [*self._fed(feeding, level), *(self._strong_low.get((q, level), FALSE) for q in neighbours(cell))]
            for level in self._lows
        }
        level, sloping = self.links.level_neighbours(cell), self.links.sloping(cell)
        self._given(self._at_least[cell, top], line, full)
        for k in self.levels[:-1]:
            higher = [self._at_least[other, k + 1] for other in level]
            higher += [self.v.clauses.both(link, self._at_least[other, k + 1]) for link, other in sloping]
            fed = [self._at_least[cell, k + 1], *higher, *low.get(k, ())]
            self._given(self._at_least[cell, k], line, fed)

    def _given(self, defined: Lit, condition: Lit, causes: list[Lit]) -> None:
        """``defined`` = ``condition`` and one of ``causes``."""
        add = self.v.clauses.add
        add(-defined, condition)
        add(-defined, *causes)
        for cause in causes:
            add(-condition, -cause, defined)
