"""A furnace's slots and its turn (rulebook section 3, "Furnace slots" and "Firing")."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sim.world.geometry import Cell, Direction
from sim.world.items.store import Store
from sim.world.layout import Layout
from sim.world.rulebook import Rules

FEED: Final = 0
FUEL: Final = 1
PRODUCT: Final = 2


@dataclass(slots=True)
class FurnaceState:
    """What a furnace holds, the ticks its fire will still burn, and the progress of the item in the fire (ticks).

    ``idle``: it was cold, and its contents have not changed since; so it has no turn.
    """

    at: Cell
    store: Store
    fire: int = 0
    progress: int = 0
    idle: bool = False

    def is_cold(self) -> bool:
        """Without fire and progress, and with nothing to burn or nothing to fire, no turn changes anything."""
        kinds = self.store.kinds
        return not self.fire and not self.progress and (kinds[FUEL] is None or kinds[FEED] is None)


@dataclass(frozen=True, slots=True)
class Firing:
    """What fires to what, and how long it burns, in one layout under one rulebook."""

    fires_to: dict[str, str]
    burns: dict[str, int]
    firing: int
    retreat: int

    @classmethod
    def of(cls, layout: Layout, rules: Rules) -> Firing:
        """The firing laws for the items of ``layout``."""
        return cls(
            {kind: item.fires_to for kind, item in layout.items.items() if item.fires_to is not None},
            {kind: item.burn for kind, item in layout.items.items() if item.burn},
            rules.firing,
            rules.retreat,
        )

    def entry_slot(self, kind: str, moving: Direction) -> int | None:
        """The slot that an item moving that way enters: from above ``feed``; from a side ``fuel``, if it burns."""
        if moving == "D":
            return FEED
        return FUEL if moving != "U" and kind in self.burns else None

    def can_fire(self, furnace: FurnaceState) -> bool:
        """The feed item fires to something and the product slot has room for that."""
        feed = furnace.store.kinds[FEED]
        return feed in self.fires_to and furnace.store.accepts(self.fires_to[feed], PRODUCT)

    def has_fuel(self, furnace: FurnaceState) -> bool:
        """The fuel slot holds something that burns."""
        return furnace.store.kinds[FUEL] in self.burns

    def turn(self, furnace: FurnaceState) -> bool:
        """One tick of a furnace; True if its contents changed."""
        if furnace.is_cold():
            return False
        store, changed = furnace.store, False
        ready = self.can_fire(furnace)
        if furnace.fire:
            furnace.fire -= 1
        if not furnace.fire and ready and self.has_fuel(furnace):
            furnace.fire = self.burns[store.take(FUEL)]
            changed = True
        if not furnace.fire:
            furnace.progress = max(0, furnace.progress - self.retreat)
        elif not ready:
            furnace.progress = 0
        else:
            furnace.progress += 1
            if furnace.progress >= self.firing:
                store.put(self.fires_to[store.take(FEED)], PRODUCT)
                furnace.progress = 0
                changed = True
        return changed

    def quiet_ticks(self, furnace: FurnaceState) -> int | None:
        """How many turns from now change nothing but fire and progress; None: all of them."""
        if furnace.is_cold() or not self.can_fire(furnace):
            return None
        if not furnace.fire:
            return 0 if self.has_fuel(furnace) else None
        until_fired = self.firing - furnace.progress - 1
        until_out = furnace.fire - 1
        if self.has_fuel(furnace):
            return min(until_fired, until_out)
        return until_fired if until_fired < until_out else None

    def pass_quietly(self, furnace: FurnaceState, ticks: int) -> None:
        """``ticks`` turns at once, of which none changes the contents (``quiet_ticks``)."""
        lit = min(ticks, max(0, furnace.fire - 1))
        furnace.fire = max(0, furnace.fire - ticks)
        if lit:
            furnace.progress = furnace.progress + lit if self.can_fire(furnace) else 0
        furnace.progress = max(0, furnace.progress - self.retreat * (ticks - lit))
