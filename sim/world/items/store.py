"""Slots of a container: putting, taking, full, fill level (rulebook sections 3 and 4)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable

from sim.world.parts import Holds, Slot

Limit = Callable[[str], int]
"""The stack limit of an item kind."""


class Store:
    """A row of slots, each empty or holding one kind of item up to that kind's limit.

    Putting scans the slots in order (all of them, or the one named) and uses the first that works. ``items``: how many
    it holds in all.
    """

    __slots__ = ("counts", "items", "kinds", "limit")

    def __init__(self, slots: int, limit: Limit, holds: Holds = ()) -> None:
        self.kinds: list[str | None] = [None] * slots
        self.counts: list[int] = [0] * slots
        self.limit = limit
        self.items = 0
        self.restore(holds)

    def restore(self, holds: Holds) -> None:
        """Hold these contents and nothing else; slots that are not listed are empty."""
        for i in range(len(self.kinds)):
            slot = holds[i] if i < len(holds) else None
            self.kinds[i], self.counts[i] = slot or (None, 0)
        self.items = sum(self.counts)

    def put(self, kind: str, slot: int | None = None) -> bool:
        """Put one item into the first slot that takes it (or into ``slot``); False when none does."""
        taking = self._slot_for(kind, slot)
        if taking is None:
            return False
        self.kinds[taking] = kind
        self.counts[taking] += 1
        self.items += 1
        return True

    def take(self, slot: int) -> str:
        """Take one item out of a slot that holds something."""
        kind = self.kinds[slot]
        assert kind is not None
        self.counts[slot] -= 1
        self.items -= 1
        if not self.counts[slot]:
            self.kinds[slot] = None
        return kind

    def accepts(self, kind: str, slot: int | None = None) -> bool:
        """Some slot (or ``slot``) would take an item of that kind."""
        return self._slot_for(kind, slot) is not None

    def _slot_for(self, kind: str, slot: int | None) -> int | None:
        """The first slot that takes an item of that kind; only ``slot`` is asked where that is named."""
        for i in range(len(self.kinds)) if slot is None else (slot,):
            held = self.kinds[i]
            if held is None or (held == kind and self.counts[i] < self.limit(kind)):
                return i
        return None

    def is_empty(self) -> bool:
        """No slot holds anything."""
        return not self.items

    def is_full(self) -> bool:
        """Every slot is at its limit."""
        return all(kind is not None and n >= self.limit(kind) for kind, n in zip(self.kinds, self.counts, strict=True))

    def count(self, kind: str) -> int:
        """Items of that kind in all slots."""
        return sum(n for held, n in zip(self.kinds, self.counts, strict=True) if held == kind)

    def slots(self) -> tuple[Slot | None, ...]:
        """The contents slot by slot."""
        return tuple(None if kind is None else (kind, n) for kind, n in zip(self.kinds, self.counts, strict=True))

    def fill_level(self, full: int) -> int:
        """0 if empty, else floor(1 + (full - 1) * mean over all slots of count / limit), in whole numbers throughout.

        ``full`` is the level of a full container (15 in practice, so that the mean is scaled by 14).
        """
        by_limit: dict[int, int] = defaultdict(int)
        for kind, n in zip(self.kinds, self.counts, strict=True):
            if kind is not None:
                by_limit[self.limit(kind)] += n
        if not by_limit:
            return 0
        numerator, denominator = 0, 1
        for limit, n in by_limit.items():
            numerator, denominator = numerator * limit + n * denominator, denominator * limit
        return 1 + (full - 1) * numerator // (denominator * len(self.kinds))
