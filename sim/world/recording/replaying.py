"""What containers held at any time of a recording, from its moves alone.

A move names no slots, and need not: an item leaves the first slot that holds its kind and enters the first slot that
takes it (rulebook section 3), so moves in their order tell every slot.
"""

from __future__ import annotations

from collections.abc import Mapping

from sim.world.geometry import ALL_DIRECTIONS, Cell, cell_text, step
from sim.world.items.furnace import FEED, FUEL, PRODUCT
from sim.world.items.furnace import Firing as FiringLaws
from sim.world.items.store import Store
from sim.world.parts import Furnace, Slot
from sim.world.recording.recording import Burning, Event, Firing, Move, Recording


class Replay:
    """Contents at the end of ``tick``, which only goes on. ``to`` costs one step for each event that it passes."""

    def __init__(self, recording: Recording) -> None:
        layout, rules = recording.layout, recording.rules
        limit = layout.stack_limit(rules)
        self.stores = {
            cell: Store(len(slots), limit, slots)
            for cell, slots in recording.start.items()
        }
        self.tick = 0
        self._laws = FiringLaws.of(layout, rules)
        self._furnaces = {part.at for part in layout.parts if isinstance(part, Furnace)}
        self._events = iter(recording.events)
        self._next = next(self._events, None)

    def to(self, tick: int) -> None:
        """Go on to the end of ``tick``. Raises ValueError for one that is past, or for moves that cannot be."""
        if tick < self.tick:
            raise ValueError(f"the replay stands at tick {self.tick}; begin again for tick {tick}")
        while self._next is not None and self._next.tick <= tick:
            self._apply(self._next)
            self._next = next(self._events, None)
        self.tick = tick

    def contents(self) -> Mapping[Cell, tuple[Slot | None, ...]]:
        """Every container's slots now."""
        return {cell: store.slots() for cell, store in self.stores.items()}

    def _apply(self, event: Event) -> None:
        match event:
            case Move(_, kind, source, target):
                if source is not None:
                    self._take(source, kind)
                self._put(source, target, kind)
            case Burning(_, furnace, fuel):
                self._take(furnace, fuel, FUEL)
            case Firing(_, furnace, kind, product):
                self._take(furnace, kind, FEED)
                self._require(self.stores[furnace].put(product, PRODUCT), event)

    def _take(self, cell: Cell, kind: str, slot: int | None = None) -> None:
        """An item leaves the first slot of its kind (a furnace: for a node below, from ``product`` alone)."""
        store = self.stores[cell]
        if slot is None and cell in self._furnaces:
            slot = PRODUCT
        slots = range(len(store.kinds)) if slot is None else (slot,)
        found = next((i for i in slots if store.kinds[i] == kind), None)
        if found is None:
            raise ValueError(f"no {kind} at {cell_text(cell)} to leave it")
        store.take(found)

    def _put(self, source: Cell | None, target: Cell, kind: str) -> None:
        slot = None
        if source is not None and target in self._furnaces:
            moving = next(d for d in ALL_DIRECTIONS if step(source, d) == target)
            slot = self._laws.entry_slot(kind, moving)
        self._require(self.stores[target].put(kind, slot), target)

    def _require(self, done: bool, what: object) -> None:
        if not done:
            raise ValueError(f"no room: {what}")


def contents_after(recording: Recording, tick: int) -> Mapping[Cell, tuple[Slot | None, ...]]:
    """What every container held at the end of ``tick`` (0: before tick 1, load in). Linear in the events up to it."""
    replay = Replay(recording)
    replay.to(tick)
    return replay.contents()
