"""The site while it is being built: what stands where, and whether a hand gets there."""

from __future__ import annotations

from sim.analysis.building.bases import is_base
from sim.world.geometry import Cell, neighbours
from sim.world.parts import Part


class Site:
    """``placed``: the parts that stand by now, temporary ones too, by cell."""

    def __init__(self, size: tuple[int, int, int]) -> None:
        self.size = size
        self.placed: dict[Cell, Part] = {}

    def is_base(self, cell: Cell) -> bool:
        """A body that stands by now, or the ground."""
        return is_base(self.placed, cell)

    def open_sides(self, cell: Cell) -> int:
        """How many of the six neighbours let a hand through."""
        return sum(not self.is_base(neighbour) for neighbour in neighbours(cell))

    def is_inside(self, cell: Cell) -> bool:
        """The cell lies on the site."""
        return all(0 <= place < side for place, side in zip(cell, self.size, strict=True))

    def is_near(self, cell: Cell) -> bool:
        """On the site or one cell beyond, where a temporary support may still stand (nobody asks below the ground)."""
        return all(-1 <= place <= side for place, side in zip(cell, self.size, strict=True))
