"""Cross-sections settled exactly: which boxes of lanes and layers hold a wing whose columns repeat, with how few parts.

One period of columns is looked at, the next one standing beside it on either side. Runs come from the head and the
tail, so that a net may be live in any reading of its row's gauges, or, where the row has one net only, whenever the
head says so or the tail does: word from one end gets to the other along a second net alone. What a node's lock hangs on
stands in its own column, as its neighbours along the row are nodes of the row; so each column must have it.

The model leaves out what only makes wiring harder (feedback, delays, levels), so that "none exists" holds for what the
laws allow within its scope, and a section that is found is a suggestion, on which heads and tails are solved
(``piece_search``) and tried.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from time import monotonic
from typing import Final, Literal

from sim.world.geometry import HORIZONTAL, OPPOSITE, VECTORS, Cell, Direction
from sim.world.parts import Furnace, Inverter, Line, Node, Part, Relay, Support
from synth.model.clauses import FALSE, TRUE, Clauses, Lit
from synth.solving.budget import Outcome
from synth.solving.cp_sat import SOLVER, CpSat, Effort

Locking = Literal["burst row", "undrained row"]
"""Schemes with one lock for all B nodes of a row that have been put into the model."""
Schemes = tuple[Locking, Locking]
"""Of the feed row, of the fuel row."""
Reading = tuple[bool, bool]
"""Whether T0 holds something, whether TN does. (In an undrained row T0 stands for the source, which always may.)"""
NETS: Final = 2
"""Of each row: a run that locks and one that carries word."""
AROUND: Final[tuple[Direction, ...]] = ("E", "W", "N", "S", "U", "D")
ACROSS: Final[tuple[Direction, ...]] = ("N", "S")
SCOPE: Final = (
    "halls of straight rows, a furnace in each column, with one column at least between two that are like it and lit "
    "as it is; in such columns: rows that lock all B while T0 holds and TN is empty (burst), or while TN is empty "
    "(undrained); T above B, the feed's B above its furnace, the fuel's beside it, a product node "
    "below; no gauge, no relay along the row, no source bin, no part that is always on, "
    "and between a run and a lock one part at most (the default delays leave time for no more); signals of a row act "
    "on its own nodes alone, T not locked while its row fills, product nodes not at rest; no run ends for want of "
    "level; " + SOLVER
)


@dataclass(frozen=True, slots=True)
class Kind:
    """What a cell may hold; ``role``: of a node or furnace, with the wing's number."""

    name: str
    direction: Direction | None = None
    role: str = ""
    wing: int = -1


EMPTY, SUPPORT, LINE = Kind("empty"), Kind("support"), Kind("line")
INVERTERS: Final = tuple(Kind("inverter", d) for d in ("E", "W", "N", "S", "D"))
RELAYS: Final = tuple(Kind("relay", d) for d in ACROSS)
BEHIND: Final = tuple((OPPOSITE[d], Kind("relay", d)) for d in ACROSS)
"""Where a relay stands that puts out into a cell, and which."""


@dataclass(frozen=True, slots=True)
class Row:
    """The row of a stream of one wing, by its face and by what locks it."""

    face: Literal["top", "side"]
    scheme: Locking

    @property
    def readings(self) -> tuple[Reading, ...]:
        """All that its gauges can say."""
        sources = (False, True) if self.scheme == "burst row" else (True,)
        return tuple((source, last) for source in sources for last in (False, True))

    @property
    def rest(self) -> Reading:
        """With nothing in the nodes that are read."""
        return self.readings[0]


def fills(reading: Reading) -> bool:
    """The B nodes are to be locked."""
    return reading == (True, False)


@dataclass(frozen=True, slots=True)
class SectionQuestion:
    """A box of ``lanes`` x ``layers``, ``period`` columns that repeat, ``wings`` side by side with two rows each, of
    these schemes (feed, fuel)."""

    lanes: int
    layers: int
    schemes: Schemes
    wings: int = 1
    period: int = 1
    product: bool = True

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows of all wings, feed and fuel by turns."""
        return (Row("top", self.schemes[0]), Row("side", self.schemes[1])) * self.wings


@dataclass(frozen=True, slots=True)
class SectionAnswer:
    """``parts`` of one period, the fewest if ``outcome`` is "found" and ``proved``."""

    question: SectionQuestion
    outcome: Outcome
    proved: bool
    parts: tuple[Part, ...]
    seconds: float


def settle_section(question: SectionQuestion, limit_s: float, seed: int = 0) -> SectionAnswer:
    """Whether the box holds such a section, and the fewest parts. Size: cells x readings of all rows together."""
    began = monotonic()
    model = SectionModel(question)
    solver = CpSat(model.clauses)
    best: tuple[Part, ...] = ()
    while True:
        left = limit_s - (monotonic() - began)
        answer = solver.solve(Effort(left, seed)) if left > 0 else None
        outcome: Outcome = "stopped" if answer is None else answer.outcome
        if answer is None or outcome != "found":
            break
        best = tuple(model.parts(answer.holds))
        solver.at_most([(-model.at[cell][EMPTY], 1) for cell in model.cells], len(best) - 1)
    seconds = round(monotonic() - began, 2)
    return SectionAnswer(question, "found" if best else outcome, outcome == "none exists", best, seconds)


class SectionModel:
    """The clauses of one question. Cells are (column of the period, lane, layer)."""

    def __init__(self, question: SectionQuestion) -> None:
        self.question, self.clauses = question, Clauses()
        q, new = question, self.clauses.new
        self.cells = list(product(range(q.period), range(q.lanes), range(q.layers)))
        self.readings = list(_readings(q.rows))
        kinds = [EMPTY, SUPPORT, LINE, *INVERTERS, *RELAYS, *_roles(q)]
        self.at = {cell: {kind: new() for kind in kinds} for cell in self.cells}
        self.nets = list(product(range(len(q.rows)), range(NETS)))
        self.net = {cell: {net: new() for net in self.nets} for cell in self.cells}
        self.says = {(net, reading): new() for net in self.nets for reading in q.rows[net[0]].readings}
        states = range(len(self.readings))
        self.live, self.energised, self.lit, self.on = (
            {(cell, state): new() for cell in self.cells for state in states} for _ in range(4)
        )
        self.linked = {(cell, side): self._linked(cell, side) for cell in self.cells for side in HORIZONTAL}
        self.points = {(cell, side): self._points(cell, side) for cell in self.cells for side in HORIZONTAL}
        self._place()
        self._join()
        self._answer_in_time()
        for state in states:
            self._signals(state)
            self._locks(state)

    # -- space --------------------------------------------------------------------------------------------------------

    def beside(self, cell: Cell, side: Direction) -> Cell:
        """The cell on that side; along the row the period comes round."""
        dx, dy, dz = VECTORS[side]
        return (cell[0] + dx) % self.question.period, cell[1] + dy, cell[2] + dz

    def is_(self, cell: Cell, kind: Kind) -> Lit:
        """The cell holds that (false outside the box)."""
        return self.at.get(cell, {}).get(kind, FALSE)

    def solid(self, cell: Cell) -> Lit:
        """A support, a furnace, the ground."""
        if cell[2] < 0:
            return TRUE
        furnaces = (lit for kind, lit in self.at.get(cell, {}).items() if kind.role == "F")
        return self.clauses.any_of((self.is_(cell, SUPPORT), *furnaces))

    def _place(self) -> None:
        clauses, q = self.clauses, self.question
        for cell in self.cells:
            here, below = self.at[cell], self.beside(cell, "D")
            clauses.exactly_one(here.values())
            for kind in (LINE, *RELAYS):
                clauses.add(-here[kind], self.solid(below))
            for kind in INVERTERS:
                assert kind.direction is not None
                mount = self.beside(cell, kind.direction)
                clauses.add(-here[kind], FALSE if mount[2] < 0 else self.solid(mount))
            above = self.at.get(self.beside(cell, "U"), {})
            for kind, lit in above.items():
                if kind.role in ("T", "B", "P", "F"):
                    for mine, node in here.items():
                        if mine.name == "node" and not _hangs(kind, mine):
                            clauses.add(-lit, -node)
        for kind in _roles(q):
            for column in range(q.period):
                clauses.exactly_one(self.at[cell][kind] for cell in self.cells if cell[0] == column)
            for cell in self.cells:
                clauses.add(-self.at[cell][kind], self.is_(self.beside(cell, "E"), kind))
        for wing, cell in product(range(q.wings), self.cells):
            self._place_wing(wing, cell)

    def _place_wing(self, wing: int, cell: Cell) -> None:
        """What hangs on the furnace of a wing, if it stands in this cell."""
        clauses, furnace = self.clauses, self.at[cell][_role("F", wing)]
        above, below = self.beside(cell, "U"), self.beside(cell, "D")
        clauses.add(-furnace, self.is_(above, _role("B", wing, "top")))
        if self.question.product:
            clauses.add(-furnace, self.is_(below, _role("P", wing)))
        at_the_side = [self.is_(self.beside(cell, side), _role("B", wing, "side")) for side in ACROSS]
        clauses.add(-furnace, *at_the_side)
        for face in ("top", "side"):
            drop, node = self.at[cell][_role("B", wing, face)], self.at[cell][_role("T", wing, face)]
            clauses.add(-drop, self.is_(above, _role("T", wing, face)))
            clauses.add(-node, FALSE if above not in self.at else TRUE)  # the source bin stands there at the head

    # -- runs ---------------------------------------------------------------------------------------------------------

    def _linked(self, cell: Cell, side: Direction) -> list[tuple[Cell, Lit]]:
        """Each line that the one here may link to on that side, and what says that both are there and do."""
        other, both = self.beside(cell, side), self.clauses.both
        higher, lower = self.beside(other, "U"), self.beside(other, "D")
        here = self.is_(cell, LINE)
        return [
            (other, both(here, self.is_(other, LINE))),
            (higher, both(here, self.is_(higher, LINE), -self.solid(self.beside(cell, "U")))),
            (lower, both(here, self.is_(lower, LINE), -self.solid(other))),
        ]

    def _connects(self, cell: Cell, side: Direction) -> Lit:
        other = self.beside(cell, side)
        beside = [self.is_(other, kind) for kind in INVERTERS]
        beside += [self.is_(other, kind) for kind in RELAYS if kind.direction in (side, OPPOSITE[side])]
        return self.clauses.any_of((*(lit for _, lit in self.linked[cell, side]), *beside))

    def _points(self, cell: Cell, side: Direction) -> Lit:
        """A line here points into that side."""
        clauses = self.clauses
        crosswise: tuple[Direction, ...] = ("E", "W") if side in ACROSS else ACROSS
        loose = clauses.both(*(-self._connects(cell, other) for other in crosswise))
        return clauses.both(self.is_(cell, LINE), clauses.any_of((self._connects(cell, side), loose)))

    def _join(self) -> None:
        """Lines that link are of one net; a row with one net has in it what its head says or its tail says."""
        clauses = self.clauses
        for cell in self.cells:
            line = self.at[cell][LINE]
            clauses.exactly_one((-line, *self.net[cell].values()))
            for side in HORIZONTAL:
                for other, both in self.linked[cell, side]:
                    for net in self.nets if other in self.at else ():
                        clauses.add(-both, -self.net[cell][net], self.net[other][net])
        for number, row in enumerate(self.question.rows):
            two = clauses.both(*(self._is_there(number, which) for which in range(NETS)))
            for which in range(NETS):
                head, tail = ({holds: clauses.new() for holds in (False, True)} for _ in range(2))
                for reading in row.readings:
                    says = self.says[(number, which), reading]
                    either = clauses.any_of((head[reading[0]], tail[reading[1]]))
                    clauses.add(two, -says, either)
                    clauses.add(two, says, -either)

    def _is_there(self, number: int, which: int) -> Lit:
        return self.clauses.any_of(self.net[cell][number, which] for cell in self.cells)

    def _answer_in_time(self) -> None:
        """Between a run and a lock one part at most: what drives an inverter or a relay is a line."""
        for cell in self.cells:
            for kind in (*INVERTERS, *RELAYS):
                assert kind.direction is not None
                is_inverter = kind in INVERTERS
                source = self.beside(cell, kind.direction if is_inverter else OPPOSITE[kind.direction])
                before = [self.is_(self.beside(source, back), relay) for back, relay in BEHIND]
                before += [self.is_(self.beside(source, "D"), one) for one in INVERTERS]
                if not is_inverter:
                    before += [self.is_(source, one) for one in (kind, *INVERTERS)]
                for part in before:
                    self.clauses.add(-self.at[cell][kind], -part)

    # -- signals in one state -----------------------------------------------------------------------------------------

    def _signals(self, state: int) -> None:
        clauses = self.clauses
        for cell in self.cells:
            here = self.at[cell]
            live = self.live[cell, state]
            clauses.add(-live, here[LINE])
            for net in self.nets:
                says = self.says[net, self.readings[state][net[0]]]
                clauses.add(-self.net[cell][net], -says, live)
                clauses.add(-self.net[cell][net], says, -live)
            for feed in self._feeds(cell, state):
                clauses.add(-here[LINE], -feed, live)
            self._equals(self.energised[cell, state], self.solid(cell), self._energising(cell, state))
            for kind in INVERTERS:
                assert kind.direction is not None
                mount = self.energised.get((self.beside(cell, kind.direction), state), FALSE)
                self._equals(self.lit[cell, state], here[kind], (-mount,), only=kind)
            clauses.add(-self.lit[cell, state], *(here[kind] for kind in INVERTERS))
            for kind in RELAYS:
                assert kind.direction is not None
                behind = self.beside(cell, OPPOSITE[kind.direction])
                wants = [
                    self.energised.get((behind, state), FALSE),
                    self.live.get((behind, state), FALSE),
                    self.lit.get((behind, state), FALSE),
                    clauses.both(self.is_(behind, kind), self.on.get((behind, state), FALSE)),
                ]
                self._equals(self.on[cell, state], here[kind], wants, only=kind)
            clauses.add(-self.on[cell, state], *(here[kind] for kind in RELAYS))

    def _equals(self, value: Lit, there: Lit, causes: Sequence[Lit], only: Kind | None = None) -> None:
        """With the part there the value is that one of the causes holds; else, but for ``only`` one kind, false."""
        clauses = self.clauses
        for cause in causes:
            clauses.add(-there, -cause, value)
        clauses.add(-there, -value, *causes)
        if only is None:
            clauses.add(there, -value)

    def _strong(self, cell: Cell, state: int) -> Iterator[Lit]:
        """What energises a solid cell strongly."""
        yield from self._put_out(cell, state)
        yield self.lit.get((self.beside(cell, "D"), state), FALSE)

    def _put_out(self, cell: Cell, state: int) -> Iterator[Lit]:
        """Relays that are on and in front of which the cell lies."""
        for back, kind in BEHIND:
            relay = self.beside(cell, back)
            yield self.clauses.both(self.is_(relay, kind), self.on.get((relay, state), FALSE))

    def _energising(self, cell: Cell, state: int) -> list[Lit]:
        found = [*self._strong(cell, state), self.live.get((self.beside(cell, "U"), state), FALSE)]
        for side in HORIZONTAL:
            line = self.beside(cell, side)
            if line in self.at:
                found.append(self.clauses.both(self.points[line, OPPOSITE[side]], self.live[line, state]))
        return found

    def _delivered(self, cell: Cell, state: int) -> Iterator[Lit]:
        """Relays in front of which the cell lies, and lit inverters beside it."""
        yield from self._put_out(cell, state)
        for side in AROUND:
            inverter = self.beside(cell, side)
            if inverter in self.at:
                hung_here = [self.is_(inverter, kind) for kind in INVERTERS if kind.direction == OPPOSITE[side]]
                yield self.clauses.both(self.lit[inverter, state], *(-lit for lit in hung_here))

    def _feeds(self, cell: Cell, state: int) -> Iterator[Lit]:
        """What makes a line here live."""
        yield from self._delivered(cell, state)
        for side in AROUND:
            other = self.beside(cell, side)
            if other in self.at:
                for strong in self._strong(other, state):
                    yield self.clauses.both(self.solid(other), strong)

    # -- locks --------------------------------------------------------------------------------------------------------

    def _locks(self, state: int) -> None:
        """B locked while its row fills and only then; T not while its row fills, the product not at rest."""
        clauses, rows = self.clauses, self.question.rows
        readings = self.readings[state]
        at_rest = all(reading == row.rest for row, reading in zip(rows, readings, strict=True))
        for cell in self.cells:
            causes = self._lock_causes(cell, state)
            for kind, there in self.at[cell].items():
                if kind.role == "B":
                    number = 2 * kind.wing + (kind.direction is None)
                    if fills(readings[number]):
                        clauses.add(-there, *causes)
                    else:
                        self._none(there, causes)
                elif (kind.role == "P" and at_rest) or (
                    kind.role == "T" and fills(readings[2 * kind.wing + (kind.direction is None)])
                ):
                    self._none(there, causes)

    def _none(self, there: Lit, causes: Sequence[Lit]) -> None:
        for cause in causes:
            self.clauses.add(-there, -cause)

    def _lock_causes(self, cell: Cell, state: int) -> list[Lit]:
        found = list(self._delivered(cell, state))
        for side in AROUND:
            other = self.beside(cell, side)
            found.append(self.energised.get((other, state), FALSE))
            if side in HORIZONTAL and other in self.at:
                found.append(self.clauses.both(self.points[other, OPPOSITE[side]], self.live[other, state]))
        return found

    # -- the way back -------------------------------------------------------------------------------------------------

    def parts(self, holds: Callable[[Lit], bool]) -> Iterator[Part]:
        """The parts of a solution, nodes and all."""
        for cell in self.cells:
            kind = next(kind for kind, lit in self.at[cell].items() if holds(lit))
            if kind.name == "support":
                yield Support(cell)
            elif kind.name == "line":
                yield Line(cell)
            elif kind.name == "furnace":
                yield Furnace(cell)
            elif kind.name == "inverter" and kind.direction is not None:
                yield Inverter(cell, kind.direction)
            elif kind.name == "relay" and kind.direction is not None:
                yield Relay(cell, kind.direction)
            elif kind.name == "node":
                yield Node(cell, "E" if kind.role != "B" else "D" if kind.direction else "S")


def _role(role: str, wing: int, face: str = "top") -> Kind:
    """A furnace, a product node, or a T or B node; those of the feed row have a direction, down."""
    return Kind("furnace" if role == "F" else "node", "D" if face == "top" else None, role, wing)


def _roles(question: SectionQuestion) -> list[Kind]:
    found = []
    for wing in range(question.wings):
        found += [_role("F", wing), *([_role("P", wing)] if question.product else [])]
        found += [_role(role, wing, face) for role in ("T", "B") for face in ("top", "side")]
    return found


def _hangs(upper: Kind, lower: Kind) -> bool:
    """The lower node is meant to pull from the upper container."""
    if upper.wing != lower.wing:
        return False
    if upper.role == "T":
        return lower.role == "B" and upper.direction == lower.direction
    return upper.role == "F" and lower.role == "P"


def _readings(rows: Sequence[Row]) -> Iterator[tuple[Reading, ...]]:
    """Enough of what the gauges of all rows can say together: each row at rest or filling, and each reading of one row
    with all others at rest and with all others filling. (Fewer states rule out less: a claim stays true.)"""
    filling = (True, False)
    found = dict.fromkeys(product(*((row.rest, filling) for row in rows)))
    for number, row in enumerate(rows):
        for reading in row.readings:
            for busy in (False, True):
                others = [filling if busy else one.rest for one in rows]
                found[*others[:number], reading, *others[number + 1 :]] = None
    yield from found
