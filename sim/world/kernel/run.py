"""One run of the kernel, driven from Python: to compare with the simulator, or to look at each tick."""

from __future__ import annotations

from collections.abc import Sequence

from sim.world.geometry import Cell
from sim.world.kernel import places as p
from sim.world.kernel import running
from sim.world.kernel.memory import new_memory, restore
from sim.world.kernel.tables import Tables
from sim.world.parts import Gauge, Slot


class Run:
    """A state that is advanced, loaded and read. ``order``: the update order (default: the file order)."""

    def __init__(self, tables: Tables, order: Sequence[Cell] | None = None) -> None:
        self.tables = tables
        self.order = tables.order(order)
        self.s, self.x, self.m = tables.start.copy(), tables.scratch(), new_memory(tables.w)
        self._started = False

    @property
    def tick(self) -> int:
        """The tick whose end the state stands at."""
        return int(self.s[p.TICK])

    @property
    def last_change(self) -> int:
        """The tick of the last change of a container or a signal part."""
        return int(self.s[p.LAST_CHANGE])

    def put(self, cell: Cell, kind: str, count: int) -> int:
        """Put items into a container from outside; how many found room."""
        t = self.tables
        store, number = t.store_no[cell], t.kind_no[kind]
        if self._started:
            return int(running.load_now(t.w, self.s, self.x, self.m, store, number, count))
        return int(running.load(t.w, self.s, store, number, count))

    def start(self) -> None:
        """Everything is noticed at tick 0, once."""
        if not self._started:
            running.start(self.tables.w, self.s, self.m)
            self._started = True

    def advance(self) -> bool:
        """One tick; True if anything changed."""
        self.start()
        return bool(running.advance(self.tables.w, self.s, self.x, self.m, self.order))

    def run_to(self, last: int) -> bool:
        """Run to rest, at the latest to the end of tick ``last``; True if at rest."""
        self.start()
        return bool(running.run_to(self.tables.w, self.s, self.x, self.m, self.order, last) == running.AT_REST)

    # -- what stands where --------------------------------------------------------------------------------------------

    def contents(self) -> dict[Cell, tuple[Slot | None, ...]]:
        """The contents of each container slot by slot."""
        w, t = self.tables.w, self.tables
        first = w[w[p.FIRST_SLOT] :]
        return {part.at: tuple(map(self._slot, range(first[i], first[i + 1]))) for i, part in enumerate(t.containers)}

    def signals(self) -> dict[Cell, int]:
        """A line's or gauge's level, 1 or 0 for a relay or inverter."""
        w, s, t = self.tables.w, self.s, self.tables
        if self._started:
            restore(w, s, self.m, self.tick)
        out = s[w[p.OUT] :]
        shown = {
            part.at: int(out[i]) if isinstance(part, Gauge) else int(out[i] > 0)
            for i, part in enumerate(t.wiring.parts)
        }
        return shown | {cell: int(s[w[p.LEVEL] + i]) for i, cell in enumerate(t.wiring.lines)}

    def locked(self) -> list[Cell]:
        """The nodes that are locked now."""
        w, s = self.tables.w, self.s
        return [cell for i, cell in enumerate(self.tables.wiring.nodes) if s[w[p.LOCKED] + i]]

    def delivered(self) -> list[tuple[int, ...]]:
        """What has entered the outputs, stream by stream."""
        at, found = int(self.tables.w[p.DELIVERED]), []
        for stream in self.tables.layout.streams:
            found.append(tuple(int(n) for n in self.s[at : at + len(stream.outputs)]))
            at += len(stream.outputs)
        return found

    def overheated(self) -> dict[Cell, int]:
        """The inverters that overheat, and the tick of the first time."""
        at, parts = int(self.tables.w[p.OVERHEATED]), self.tables.wiring.parts
        return {part.at: int(self.s[at + i]) for i, part in enumerate(parts) if self.s[at + i] != p.NOTHING}

    def _slot(self, slot: int) -> Slot | None:
        kind = self.s[self.tables.w[p.KIND] + slot]
        if kind == p.NOTHING:
            return None
        return self.tables.kinds[kind], int(self.s[self.tables.w[p.COUNT] + slot])
