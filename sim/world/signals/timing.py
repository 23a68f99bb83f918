"""When signal parts change: scheduled changes, stretched pulses, latches, overheating (section 4, "Timing")."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

from sim.world.parts import Gauge, Inverter, Relay
from sim.world.rulebook import Rules
from sim.world.signals.field import Field
from sim.world.signals.wants import Reading, is_latched, relay_input, wanted


class Timing:
    """The changes that are pending, in the order in which they were scheduled, and what is done when they fall due."""

    def __init__(self, field: Field, rules: Rules, reading: Reading) -> None:
        self.field = field
        self.reading = reading
        self.delays = tuple(delay_of(part, rules) for part in field.wiring.parts)
        self.due: list[int | None] = [None] * len(self.delays)
        self.agenda: dict[int, list[int]] = {}
        self.overheated: list[tuple[int, int]] = []
        self._window = rules.overheat_window
        self._switch_offs: dict[int, deque[int]] = {
            i: deque(maxlen=rules.overheat_count)
            for i, part in enumerate(field.wiring.parts)
            if isinstance(part, Inverter)
        }

    def next_due(self) -> int | None:
        """The next tick in which a change falls due."""
        return min(self.agenda, default=None)

    def notice(self, parts: Iterable[int], tick: int) -> None:
        """Each of the parts that wants another state, has nothing pending and is not latched schedules its change,
        in file order."""
        for part in sorted(parts):
            if (
                self.due[part] is None
                and not is_latched(self.field, part)
                and wanted(self.field, part, self.reading) != self.field.out[part]
            ):
                self._schedule(part, tick)

    def run_due(self, tick: int) -> bool:
        """The signal phase: run the changes due in this tick; True if any part changed."""
        changed = False
        for part in self.agenda.pop(tick, ()):
            self.due[part] = None
            changed |= self._run(part, tick)
        return changed

    def would_change(self, part: int) -> bool:
        """The part's pending change, run now, would change it."""
        if is_latched(self.field, part):
            return False
        if isinstance(self.field.wiring.parts[part], Relay) and not self.field.out[part]:
            return True
        return wanted(self.field, part, self.reading) != self.field.out[part]

    def _run(self, part: int, tick: int) -> bool:
        """Re-evaluate one part whose change is due, then let the others notice."""
        field = self.field
        if is_latched(field, part):
            return False
        before, new = field.out[part], wanted(field, part, self.reading)
        if isinstance(field.wiring.parts[part], Relay) and not before:
            new = field.reach
            if not relay_input(field, part):  # a short pulse, stretched to the relay's delay
                self._schedule(part, tick)
        touched = field.set_out(part, new)
        if before and not new:
            self._record_switch_off(part, tick)
        self.notice(touched, tick)
        return new != before

    def _schedule(self, part: int, tick: int) -> None:
        self.due[part] = tick + self.delays[part]
        self.agenda.setdefault(tick + self.delays[part], []).append(part)

    def _record_switch_off(self, part: int, tick: int) -> None:
        times = self._switch_offs.get(part)
        if times is None:
            return
        times.append(tick)
        if len(times) == times.maxlen and tick - times[0] < self._window and not self.has_overheated(part):
            self.overheated.append((part, tick))

    def has_overheated(self, part: int) -> bool:
        """The inverter has been reported."""
        return any(part == other for other, _ in self.overheated)


def delay_of(part: Inverter | Relay | Gauge, rules: Rules) -> int:
    """Ticks from noticing to changing."""
    match part:
        case Inverter():
            return rules.inverter_delay
        case Gauge():
            return rules.gauge_delay
        case Relay():
            return rules.relay_step * part.delay
