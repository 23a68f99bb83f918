"""What an influence is: one place acting on another, where some literals hold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.world.geometry import Cell
from synth.model.clauses import Lit

Family = Literal["part", "strong", "solid", "line", "node"]
Place = tuple[Family, Cell]
"""A signal part; a solid's strong level; a solid's being energised; a line; a node."""


@dataclass(frozen=True, slots=True)
class Edge:
    """If all of ``given`` hold, ``source`` can act on ``target`` after ``delay`` ticks."""

    given: tuple[Lit, ...]
    source: Place
    target: Place
    delay: int = 0
