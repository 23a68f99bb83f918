"""Text that points to cells."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sim.world.geometry import Cell


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of text and the cells that it speaks of (none: plain words)."""

    text: str
    cells: tuple[Cell, ...] = ()


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence in pieces. ``str()`` is its plain text."""

    pieces: tuple[Piece, ...]

    def __str__(self) -> str:
        return "".join(piece.text for piece in self.pieces)

    def __iter__(self) -> Iterator[Piece]:
        return iter(self.pieces)

    @property
    def cells(self) -> tuple[Cell, ...]:
        """Every cell that is spoken of, each once."""
        return tuple(dict.fromkeys(cell for piece in self.pieces for cell in piece.cells))
