"""What a cell may hold, in both languages: a part for the simulator, a literal for the model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sim.world.geometry import Cell, Direction
from sim.world.parts import MOUNTS, OUTPUTS, Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support
from synth.model.clauses import Lit
from synth.model.vocabulary import (
    EMPTY,
    FURNACE,
    LINE,
    SUPPORT,
    Kind,
    Vocabulary,
    drop_node,
    gauge,
    inverter,
    relay,
    row_node,
    source_bin,
)

OUTPUTS_OF_ROW: Final = 1
"""The row asked for is T0, T1: just the two ends that gauges may read."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A part with its direction. ``word``: its kind, for nodes its role in the row: "head", "tail" or "drop"."""

    word: str
    direction: Direction | None = None

    def part(self, cell: Cell) -> Part | None:
        """The simulator's part."""
        match self.word:
            case "empty":
                return None
            case "support":
                return Support(cell)
            case "furnace":
                return Furnace(cell)
            case "bin":
                return Bin(cell)
            case "line":
                return Line(cell)
            case "head" | "tail" | "drop":
                return Node(cell, "D")
        assert self.direction is not None
        match self.word:
            case "inverter":
                return Inverter(cell, self.direction)
            case "relay":
                return Relay(cell, self.direction)
            case "gauge":
                return Gauge(cell, self.direction)
        raise AssertionError(self)

    def kinds(self) -> tuple[Kind, ...]:
        """The model's kinds: one, but two for a gauge, since the model's gauge says what it reads."""
        if self.word == "gauge":
            assert self.direction is not None
            return gauge(self.direction, 0, "head"), gauge(self.direction, 0, "tail")
        if self.word in ("inverter", "relay"):
            assert self.direction is not None
            return (inverter(self.direction) if self.word == "inverter" else relay(self.direction),)
        return (
            {
                "empty": EMPTY,
                "support": SUPPORT,
                "furnace": FURNACE,
                "bin": source_bin(0),
                "line": LINE,
                "head": row_node(0, 0),
                "tail": row_node(0, OUTPUTS_OF_ROW),
                "drop": drop_node(0, "D"),
            }[self.word],
        )

    def literal(self, v: Vocabulary, cell: Cell) -> Lit:
        """The cell holds this, whatever a gauge reads (which the model is to find out)."""
        if self.word == "gauge":
            assert self.direction is not None
            return v.is_gauge(cell, self.direction)
        return v.is_(cell, self.kinds()[0])

    def __str__(self) -> str:
        return f"{self.word} {self.direction}" if self.direction else self.word


EMPTY_CELL, SOLID, LINES = Choice("empty"), Choice("support"), Choice("line")
FURNACES, BINS = Choice("furnace"), Choice("bin")
HEAD, TAIL, DROP = Choice("head"), Choice("tail"), Choice("drop")
INVERTERS = tuple(Choice("inverter", mount) for mount in MOUNTS)
RELAYS = tuple(Choice("relay", output) for output in OUTPUTS)
GAUGES = tuple(Choice("gauge", output) for output in OUTPUTS)
