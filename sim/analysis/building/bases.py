"""What each part needs when it is placed: the finder's reading of the rules in ``sim.analysis.building``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from sim.world.geometry import Cell, Direction, is_ground, step
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.signals.structure import mount_cell

Body = Support | Furnace | Bin | Node
BODIES: Final = (Support, Furnace, Bin, Node)
FACES: Final[tuple[Direction, ...]] = ("D", "E", "W", "N", "S", "U")
"""The faces of a cell in the order in which a body is put against what lies there: what carries it comes first."""
KINDS: Final[dict[type[Part], int]] = {
    kind: i for i, kind in enumerate((Support, Furnace, Bin, Node, Line, Relay, Gauge, Inverter))
}


def rank(part: Part) -> tuple[int, int, int, int]:
    """Where a part comes if nothing else decides: layers upwards, kind by kind (wiring last), along x, then y."""
    x, y, z = part.at
    return z, KINDS[type(part)], x, y


def is_base(build: Mapping[Cell, Part], cell: Cell) -> bool:
    """Something that a body can be put against: a body or the ground."""
    return is_ground(cell) or isinstance(build.get(cell), BODIES)


def hanging_cell(part: Part) -> Cell | None:
    """The cell that a part hangs on and that must be solid; None for a body."""
    if isinstance(part, Inverter):
        return mount_cell(part)
    return step(part.at, "D") if isinstance(part, (Line, Relay, Gauge)) else None


def bases(part: Body) -> list[Cell]:
    """The cells that a body may be put against, in the order of ``FACES``; of a node the one that its outlet faces."""
    faces = (part.outlet,) if isinstance(part, Node) else FACES
    return [step(part.at, face) for face in faces]
