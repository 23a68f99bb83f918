"""How many items a node must hold to read a level (rulebook section 4, "Fill level")."""

from __future__ import annotations

from sim.world.items.store import Store
from sim.world.parts import Holds
from sim.world.rulebook import Rules


def count_reading(level: int, stack: int, rules: Rules) -> int:
    """The fewest items of that stack limit with which a node reads the level or more; 0 where no number does."""
    return next(
        (
            count
            for count in range(1, rules.node_slots * stack + 1)
            if Store(rules.node_slots, lambda _: stack, stacked("load", count, stack)).fill_level(rules.reach) >= level
        ),
        0,
    )


def stacked(item: str, count: int, stack: int) -> Holds:
    """So many items, slot after slot."""
    full, rest = divmod(count, stack)
    return ((item, stack),) * full + (((item, rest),) if rest else ())
