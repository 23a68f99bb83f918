"""The parts of the world (rulebook section 2), as immutable records.

``kind`` is the word of the files; ``at`` the cell. ``holds`` lists a container's starting contents slot by slot
(``None`` for an empty slot); slots that it does not list are empty.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Final, Literal

from sim.world.geometry import Cell, Direction

Slot = tuple[str, int]
"""One slot's contents: item kind and count."""
Holds = tuple[Slot | None, ...]
Finish = Literal["plain", "marked"]
FURNACE_SLOTS: Final = ("feed", "fuel", "product")


@dataclass(frozen=True, slots=True)
class Bin:
    """Stores items; merges with a horizontal neighbour of the same finish."""

    kind: ClassVar[str] = "bin"
    at: Cell
    finish: Finish = "plain"
    holds: Holds = ()


@dataclass(frozen=True, slots=True)
class Node:
    """Transfer node: pulls from the container above, pushes through its outlet (E W N S D)."""

    kind: ClassVar[str] = "node"
    at: Cell
    outlet: Direction
    holds: Holds = ()


@dataclass(frozen=True, slots=True)
class Furnace:
    """Feed, fuel and product slot; a full solid cell."""

    kind: ClassVar[str] = "furnace"
    at: Cell
    holds: Holds = ()


@dataclass(frozen=True, slots=True)
class Support:
    """A full solid cell that carries other parts."""

    kind: ClassVar[str] = "support"
    at: Cell


@dataclass(frozen=True, slots=True)
class Line:
    """Signal line, level 0-15."""

    kind: ClassVar[str] = "line"
    at: Cell


@dataclass(frozen=True, slots=True)
class Inverter:
    """Fixed to the solid cell on its mount side (E W N S D); lit unless that cell is energised."""

    kind: ClassVar[str] = "inverter"
    at: Cell
    mount: Direction


@dataclass(frozen=True, slots=True)
class Relay:
    """One-way: full level out in front (E W N S) when there is signal behind; ``delay`` 1-4."""

    kind: ClassVar[str] = "relay"
    at: Cell
    output: Direction
    delay: int = 1


@dataclass(frozen=True, slots=True)
class Gauge:
    """Reads how full the container behind it is; level out in front (E W N S)."""

    kind: ClassVar[str] = "gauge"
    at: Cell
    output: Direction


Container = Bin | Node | Furnace
SignalPart = Inverter | Relay | Gauge
Part = Bin | Node | Furnace | Support | Line | Inverter | Relay | Gauge

PART_KINDS: Final[dict[str, type[Part]]] = {
    cls.kind: cls for cls in (Bin, Node, Furnace, Support, Line, Inverter, Relay, Gauge)
}
OUTLETS: Final[tuple[Direction, ...]] = ("E", "W", "N", "S", "D")
MOUNTS: Final[tuple[Direction, ...]] = ("E", "W", "N", "S", "D")
OUTPUTS: Final[tuple[Direction, ...]] = ("E", "W", "N", "S")
DELAYS: Final[tuple[int, ...]] = (1, 2, 3, 4)


def direction_of(part: Part) -> Direction | None:
    """Where a part points: outlet, output or mount. It is set by placing the part."""
    match part:
        case Node(outlet=direction) | Relay(output=direction) | Gauge(output=direction) | Inverter(mount=direction):
            return direction
    return None
