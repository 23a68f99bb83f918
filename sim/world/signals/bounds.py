"""The least and the most that signals can come to, whatever the containers hold: interval analysis over the laws."""

from __future__ import annotations

from sim.world.parts import Gauge, Inverter, SignalPart
from sim.world.signals.field import Field
from sim.world.signals.wants import is_latched, relay_input
from sim.world.signals.wiring import Wiring


def bounds(wiring: Wiring, reach: int) -> tuple[Field, Field]:
    """The least and the most that every part can deliver once the signals have settled.

    A gauge that reads something can deliver anything. From bounds as wide as can be each part's own law narrows its
    bounds until nothing changes: interval analysis, sound for loops too. Time: at most parts times parts.
    """
    least, most = Field(wiring, reach), Field(wiring, reach)
    for i in range(len(wiring.parts)):
        most.set_out(i, reach)
    narrowed = True
    while narrowed:
        narrowed = False
        for i, part in enumerate(wiring.parts):
            low, high = _narrowed(least, most, i, part)
            if (low, high) != (least.out[i], most.out[i]):
                least.set_out(i, low)
                most.set_out(i, high)
                narrowed = True
    return least, most


def _narrowed(least: Field, most: Field, i: int, part: SignalPart) -> tuple[int, int]:
    full = most.reach
    match part:
        case Inverter():
            solid = most.wiring.input_solid[i]
            low = 0 if solid >= 0 and most.energised[solid] else full
            return low, 0 if solid >= 0 and least.energised[solid] else full
        case Gauge():
            return 0, full if most.wiring.reads[i] is not None else 0
        case _:
            if is_latched(most, i):  # a latch may keep whatever the relay was while the signals settled
                return 0, full
            return full if relay_input(least, i) else 0, full if relay_input(most, i) else 0
