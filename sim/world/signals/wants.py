"""What each signal part wants to deliver at an instant, and when a relay is latched (rulebook section 4)."""

from __future__ import annotations

from collections.abc import Callable

from sim.world.geometry import Cell
from sim.world.parts import Gauge, Inverter, Relay
from sim.world.signals.field import Field

Reading = Callable[[Cell], int]
"""The fill level of the container in a cell."""


def relay_input(field: Field, relay: int) -> bool:
    """Signal behind: an energised cell, a line above 0, a lit inverter, or a relay or gauge facing the same way."""
    w = field.wiring
    solid = w.input_solid[relay]
    return (
        (solid >= 0 and field.energised[solid])
        or any(field.level[line] for line in w.input_lines[relay])
        or any(field.out[part] for part in w.input_parts[relay])
    )


def side_input(field: Field, gauge: int) -> int:
    """The largest of the levels of lines on either side and of the relays and gauges that face it from a side."""
    w = field.wiring
    lines = max((field.level[line] for line in w.side_lines[gauge]), default=0)
    return max(lines, max((field.out[part] for part in w.side_parts[gauge]), default=0))


def is_latched(field: Field, part: int) -> bool:
    """A relay that a relay that is on, or a gauge above 0, faces from a side keeps its state."""
    w = field.wiring
    return isinstance(w.parts[part], Relay) and any(field.out[other] for other in w.side_parts[part])


def wanted(field: Field, part: int, reading: Reading) -> int:
    """The output that the part wants: lit while its mount cell is not energised, on while there is input, or the
    reading while no side input is above it."""
    w = field.wiring
    match w.parts[part]:
        case Inverter():
            solid = w.input_solid[part]
            return 0 if solid >= 0 and field.energised[solid] else field.reach
        case Relay():
            return field.reach if relay_input(field, part) else 0
        case Gauge():
            cell = w.reads[part]
            if cell is None:
                return 0
            level = reading(cell)
            return 0 if side_input(field, part) > level else level
