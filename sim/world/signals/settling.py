"""The signals before tick 1: rounds from relays off, gauges 0, inverters lit (rulebook section 4)."""

from __future__ import annotations

from sim.world.parts import Gauge, Inverter, Relay
from sim.world.signals.field import Field
from sim.world.signals.wants import Reading, is_latched, wanted


def settle(field: Field, reading: Reading, rounds: int) -> bool:
    """Bring the field to rest with the starting contents in place; False when it has not settled after ``rounds``.

    A round goes through the gauges, then the relays, then the inverters, each in file order; a part takes the state
    that it wants at once (a latched relay keeps its own), and the next one sees that.
    """
    parts = field.wiring.parts
    for i, part in enumerate(parts):
        if isinstance(part, Inverter):
            field.set_out(i, field.reach)
    sequence = [i for kind in (Gauge, Relay, Inverter) for i, part in enumerate(parts) if isinstance(part, kind)]
    return any(not _round_changes(field, reading, sequence) for _ in range(rounds))


def _round_changes(field: Field, reading: Reading, sequence: list[int]) -> bool:
    changed = False
    for part in sequence:
        if not is_latched(field, part):
            want = wanted(field, part, reading)
            changed |= want != field.out[part]
            field.set_out(part, want)
    return changed
