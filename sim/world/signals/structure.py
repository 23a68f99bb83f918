"""Laws of signals that depend on the parts alone, not on any state (rulebook section 4, first half).

All functions take ``build``, the parts by cell.
"""

from __future__ import annotations

from collections.abc import Mapping

from sim.world.geometry import HORIZONTAL, OPPOSITE, SIDES, Cell, Direction, is_ground, step
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support

Build = Mapping[Cell, Part]


def is_solid(build: Build, cell: Cell) -> bool:
    """Solid cells: ``support``, ``furnace``, the ground (section 2)."""
    return is_ground(cell) or isinstance(build.get(cell), (Support, Furnace))


def is_line(build: Build, cell: Cell) -> bool:
    """A signal line stands in the cell."""
    return isinstance(build.get(cell), Line)


def links_on(build: Build, line: Cell, side: Direction) -> list[Cell]:
    """The lines that ``line`` links to on one horizontal side; q is the neighbour cell there.

    Level: the line in q. Up: the line on top of q, when q is solid and the cell above ``line`` is not.
    Down: the line below q, when q is not solid.
    """
    q = step(line, side)
    if is_solid(build, q):
        linked = [step(q, "U")] if not is_solid(build, step(line, "U")) else []
    else:
        linked = [q, step(q, "D")]
    return [cell for cell in linked if is_line(build, cell)]


def links(build: Build, line: Cell) -> list[Cell]:
    """Every line that ``line`` links to, side by side in the order E W N S."""
    return [linked for side in HORIZONTAL for linked in links_on(build, line, side)]


def connects(build: Build, line: Cell, side: Direction) -> bool:
    """Something on that side connects to the line: a linked line, an inverter, a gauge, or a relay in line with it."""
    if links_on(build, line, side):
        return True
    beside = build.get(step(line, side))
    if isinstance(beside, Relay):
        return side in (beside.output, OPPOSITE[beside.output])
    return isinstance(beside, (Inverter, Gauge))


def points_into(build: Build, line: Cell) -> tuple[Direction, ...]:
    """The horizontal sides that a line points into.

    Where something connects; both E and W if neither N nor S connects; both N and S if neither E nor W connects
    (both judged on what really connects).
    """
    real = {side for side in HORIZONTAL if connects(build, line, side)}
    pointed = set(real)
    if not real & {"N", "S"}:
        pointed |= {"E", "W"}
    if not real & {"E", "W"}:
        pointed |= {"N", "S"}
    return tuple(side for side in HORIZONTAL if side in pointed)


def front(part: Relay | Gauge) -> Cell:
    """The cell that a relay or gauge delivers into."""
    return step(part.at, part.output)


def behind(part: Relay | Gauge) -> Cell:
    """The cell that a relay or gauge takes its input from."""
    return step(part.at, OPPOSITE[part.output])


def mount_cell(part: Inverter) -> Cell:
    """The cell that an inverter is fixed to and reads."""
    return step(part.at, part.mount)


def faces_a_side(other: Relay | Gauge, part: Relay | Gauge) -> bool:
    """``other`` stands on one of the two sides of ``part`` and delivers into it."""
    return front(other) == part.at and other.output in SIDES[part.output]


def read_container(build: Build, gauge: Gauge) -> Cell | None:
    """The cell of the container that a gauge reads: directly behind it, or behind a support that is; else None."""
    place = behind(gauge)
    if isinstance(build.get(place), Support):
        place = step(place, OPPOSITE[gauge.output])
    return place if isinstance(build.get(place), (Bin, Node, Furnace)) else None
