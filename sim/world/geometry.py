"""Cells and directions (rulebook section 1): E=+x, W=-x, N=+y, S=-y, U=+z, D=-z."""

from __future__ import annotations

from typing import Final, Literal

Cell = tuple[int, int, int]
Direction = Literal["E", "W", "N", "S", "U", "D"]

VECTORS: Final[dict[Direction, Cell]] = {
    "E": (1, 0, 0),
    "W": (-1, 0, 0),
    "N": (0, 1, 0),
    "S": (0, -1, 0),
    "U": (0, 0, 1),
    "D": (0, 0, -1),
}
OPPOSITE: Final[dict[Direction, Direction]] = {"E": "W", "W": "E", "N": "S", "S": "N", "U": "D", "D": "U"}
HORIZONTAL: Final[tuple[Direction, ...]] = ("E", "W", "N", "S")
ALL_DIRECTIONS: Final[tuple[Direction, ...]] = ("E", "W", "N", "S", "U", "D")
SIDES: Final[dict[Direction, tuple[Direction, Direction]]] = {
    "E": ("N", "S"),
    "W": ("N", "S"),
    "N": ("E", "W"),
    "S": ("E", "W"),
}
"""The two horizontal directions that lie across a horizontal one: the sides of a relay or gauge."""


def step(cell: Cell, direction: Direction) -> Cell:
    """The neighbour of ``cell`` in ``direction``."""
    dx, dy, dz = VECTORS[direction]
    return cell[0] + dx, cell[1] + dy, cell[2] + dz


def neighbours(cell: Cell) -> list[Cell]:
    """The six neighbours, in the order E W N S U D."""
    return [step(cell, direction) for direction in ALL_DIRECTIONS]


def is_ground(cell: Cell) -> bool:
    """Every cell below z = 0 is solid ground (rulebook section 1)."""
    return cell[2] < 0


def cell_text(cell: Cell) -> str:
    """``"x,y,z"``, the form of a cell in JSON keys and in plans."""
    return f"{cell[0]},{cell[1]},{cell[2]}"
