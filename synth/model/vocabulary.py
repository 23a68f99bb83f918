"""Decision variables: which part each cell holds, and the words the constraint families share about cells.

Cells outside the box are empty; below it lies the ground.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from sim.world.geometry import HORIZONTAL, OPPOSITE, Cell, Direction, is_ground, step
from sim.world.parts import DELAYS, MOUNTS, OUTPUTS
from synth.model.clauses import FALSE, TRUE, Clauses, Lit
from synth.model.edges import Edge
from synth.model.question import Question
from synth.schemes.scheme import Nodes, Role, Watch, Which


@dataclass(frozen=True, slots=True)
class Kind:
    """What a cell can hold. ``name`` is the part's kind; the rest its attribute or its role in the item network."""

    name: str
    direction: Direction | None = None
    stream: int = -1
    index: int = -1
    end: str = ""


EMPTY: Final = Kind("empty")
SUPPORT: Final = Kind("support")
LINE: Final = Kind("line")
FURNACE: Final = Kind("furnace")
STANDING: Final = Kind("standing")
"""A node or bin of another row, where the question says that one stands."""


def inverter(mount: Direction) -> Kind:
    """An inverter by its mount."""
    return Kind("inverter", mount)


def relay(output: Direction) -> Kind:
    """A relay by its output; the delay is a variable of its own."""
    return Kind("relay", output)


def gauge(output: Direction, stream: int, end: str) -> Kind:
    """A gauge by its output and by what it reads: nodes of a stream that the scheme watches, by their label."""
    return Kind("gauge", output, stream=stream, end=end)


def row_node(stream: int, index: int) -> Kind:
    """T node number ``index`` of a stream."""
    return Kind("row", stream=stream, index=index)


def drop_node(stream: int, outlet: Direction) -> Kind:
    """A B node of a stream by its outlet."""
    return Kind("drop", outlet, stream=stream)


def source_bin(stream: int) -> Kind:
    """The source bin of a stream."""
    return Kind("bin", stream=stream)


@dataclass
class Vocabulary:
    """The variables of one model. ``kind[cell][kind]`` holds when the cell holds that. ``influences``: its edges of
    influence, once the model is built."""

    question: Question
    clauses: Clauses = field(default_factory=Clauses)
    influences: list[Edge] = field(default_factory=list)

    def __post_init__(self) -> None:
        q, new = self.question, self.clauses.new
        self.streams = range(len(q.streams))
        self.labels = [watch.label for watch in q.scheme.watches]
        self._classes: dict[tuple[Cell, int, Nodes], Lit] = {}
        self.cells = [cell for cell in q.grid if cell not in q.grid.blocked]
        kinds = self._kinds()
        self.kind: dict[Cell, dict[Kind, Lit]] = {cell: {kind: new() for kind in kinds} for cell in self.cells}
        self.delay: dict[Cell, dict[int, Lit]] = {cell: {d: new() for d in DELAYS} for cell in self.cells}
        any_of = self.clauses.any_of
        self._solid = {c: any_of((k[SUPPORT], k[FURNACE])) for c, k in self.kind.items()}
        self._inverter = {c: any_of(self.of_name(c, "inverter")) for c in self.cells}
        self._gauge = {
            (c, d): any_of(lit for kind, lit in k.items() if kind.name == "gauge" and kind.direction == d)
            for c, k in self.kind.items()
            for d in OUTPUTS
        }
        self._row = {
            (c, s): any_of(lit for kind, lit in k.items() if kind.name == "row" and kind.stream == s)
            for c, k in self.kind.items()
            for s in self.streams
        }
        self._drop = {
            (c, s): any_of(lit for kind, lit in k.items() if kind.name == "drop" and kind.stream == s)
            for c, k in self.kind.items()
            for s in self.streams
        }
        self._container = {
            c: any_of([
                *self.of_name(c, "row"), *self.of_name(c, "drop"), *self.of_name(c, "bin"), k[FURNACE],
                k.get(STANDING, FALSE),
            ])
            for c, k in self.kind.items()
        }

    def _kinds(self) -> list[Kind]:
        q = self.question
        kinds = [EMPTY, SUPPORT, LINE, FURNACE]
        kinds += [STANDING] if q.standing else []
        kinds += [inverter(m) for m in MOUNTS]
        kinds += [relay(d) for d in OUTPUTS]
        kinds += [gauge(d, s, end) for d in OUTPUTS for s in self.streams for end in self.labels]
        for s, stream in enumerate(q.streams):
            kinds += [row_node(s, i) for i in q.scheme.numbers("T", q.outputs)]
            outlets: tuple[Direction, ...] = ("D",) if stream.face == "top" else HORIZONTAL
            kinds += [drop_node(s, outlet) for outlet in outlets]
            kinds.append(source_bin(s))
        return kinds

    def is_(self, cell: Cell, kind: Kind) -> Lit:
        """The cell holds that (false outside the box)."""
        return self.kind[cell].get(kind, FALSE) if cell in self.kind else FALSE

    def of_name(self, cell: Cell, name: str) -> list[Lit]:
        """The literals of all kinds of that name in the cell."""
        return [lit for kind, lit in self.kind.get(cell, {}).items() if kind.name == name]

    def is_solid(self, cell: Cell) -> Lit:
        """solid: support, furnace, the ground."""
        return TRUE if is_ground(cell) else self._solid.get(cell, FALSE)

    def is_inverter(self, cell: Cell) -> Lit:
        """An inverter, however mounted."""
        return self._inverter.get(cell, FALSE)

    def is_relay(self, cell: Cell, output: Direction) -> Lit:
        """A relay with that output, whatever its delay."""
        return self.is_(cell, relay(output))

    def is_gauge(self, cell: Cell, output: Direction) -> Lit:
        """A gauge with that output, whatever it reads."""
        return self._gauge.get((cell, output), FALSE)

    def is_row(self, cell: Cell, stream: int) -> Lit:
        """A T node of the stream."""
        return self._row.get((cell, stream), FALSE)

    def is_drop(self, cell: Cell, stream: int) -> Lit:
        """A B node of the stream."""
        return self._drop.get((cell, stream), FALSE)

    def is_container(self, cell: Cell) -> Lit:
        """A bin, node or furnace."""
        return self._container.get(cell, FALSE)

    def is_number(self, cell: Cell, stream: int, role: Role, number: int) -> Lit:
        """Ti or Bi of the stream. (A B hangs below its T, so that it needs no variable of its own.)"""
        return self.is_(cell if role == "T" else step(cell, "U"), row_node(stream, number))

    def is_among(self, cell: Cell, stream: int, nodes: Nodes) -> Lit:
        """A node of that class of the stream."""
        if nodes.which is Which.EVERY:
            return self.is_row(cell, stream) if nodes.role == "T" else self.is_drop(cell, stream)
        if (cell, stream, nodes) not in self._classes:
            numbers = self.question.scheme.members(nodes, self.question.outputs)
            found = [self.is_number(cell, stream, nodes.role, number) for number in numbers]
            self._classes[cell, stream, nodes] = self.clauses.any_of(found)
        return self._classes[cell, stream, nodes]

    def watched(self, cell: Cell, stream: int, watch: Watch) -> Lit:
        """A node of the stream that gauges of that label read."""
        return self.is_among(cell, stream, watch.nodes)


def back(cell: Cell, direction: Direction) -> Cell:
    """The cell behind a part with that output."""
    return step(cell, OPPOSITE[direction])
