"""The box in which the model places parts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sim.world.geometry import Cell


@dataclass(frozen=True, slots=True)
class Grid:
    """A box of width, depth, height with its low corner at the origin, standing on the ground; some cells taken."""

    size: tuple[int, int, int]
    blocked: frozenset[Cell] = frozenset()

    def __iter__(self) -> Iterator[Cell]:
        w, d, h = self.size
        return ((x, y, z) for z in range(h) for y in range(d) for x in range(w))

    def __contains__(self, cell: Cell) -> bool:
        return all(0 <= c < s for c, s in zip(cell, self.size, strict=True))

    @property
    def volume(self) -> int:
        """Cells in the box."""
        w, d, h = self.size
        return w * d * h
