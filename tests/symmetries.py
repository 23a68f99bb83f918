"""The eight symmetries of the square about the vertical axis, applied to layouts and results."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from sim.world.geometry import VECTORS, Cell, Direction
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Node, Part, Relay
from sim.world.trial import TrialResult
from worlds import Change


@dataclass(frozen=True)
class Symmetry:
    """Quarter turns clockwise, seen from above, after a mirroring of east and west."""

    mirrored: bool
    turns: int

    def cell(self, cell: Cell, size: Cell) -> Cell:
        """Where a cell of a site of ``size`` goes."""
        (x, y, z), (width, depth, _) = cell, size
        if self.mirrored:
            x = width - 1 - x
        for _ in range(self.turns):
            x, y, width, depth = y, width - 1 - x, depth, width
        return x, y, z

    def side(self, side: Direction) -> Direction:
        """Where a direction goes."""
        dx, dy, dz = VECTORS[side]
        if self.mirrored:
            dx = -dx
        for _ in range(self.turns):
            dx, dy = dy, -dx
        return next(other for other, vector in VECTORS.items() if vector == (dx, dy, dz))

    def layout(self, layout: Layout) -> Layout:
        """The layout turned; the order of its parts stays."""
        width, depth, height = layout.size
        return replace(
            layout,
            size=(depth, width, height) if self.turns % 2 else layout.size,
            parts=tuple(self._part(part, layout.size) for part in layout.parts),
            streams=tuple(
                replace(
                    stream,
                    source=self.cell(stream.source, layout.size),
                    outputs=tuple(self.cell(output, layout.size) for output in stream.outputs),
                )
                for stream in layout.streams
            ),
        )

    def result(self, result: TrialResult, size: Cell) -> TrialResult:
        """The result that the turned layout must have."""
        move = self._mover(size)
        return replace(
            result,
            contents={move(cell): slots for cell, slots in result.contents.items()},
            signals={move(cell): value for cell, value in result.signals.items()},
            locked=tuple(move(cell) for cell in result.locked),
            findings=tuple(
                replace(finding, text="", at=finding.at and move(finding.at)) for finding in result.findings
            ),
        )

    def changes(self, changes: list[Change], size: Cell) -> list[Change]:
        """The changes that the turned layout must show."""
        return [(tick, self.cell(cell, size), state) for tick, cell, state in changes]

    def _mover(self, size: Cell) -> Callable[[Cell], Cell]:
        return lambda cell: self.cell(cell, size)

    def _part(self, part: Part, size: Cell) -> Part:
        at = self.cell(part.at, size)
        match part:
            case Node():
                return replace(part, at=at, outlet=self.side(part.outlet))
            case Inverter():
                return replace(part, at=at, mount=self.side(part.mount))
            case Relay() | Gauge():
                return replace(part, at=at, output=self.side(part.output))
            case _:
                return replace(part, at=at)


def all_symmetries() -> Iterator[Symmetry]:
    """The identity first."""
    for mirrored in (False, True):
        for turns in range(4):
            yield Symmetry(mirrored, turns)
