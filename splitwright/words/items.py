"""Which kinds of items a layout speaks of: those that a labels file can name for it."""

from __future__ import annotations

from sim.world.layout import Layout


def items_of(layout: Layout) -> set[str]:
    """The kinds of items that a layout lists, fires to, splits or starts with. Linear in its parts."""
    held = {slot[0] for part in layout.containers for slot in part.holds if slot is not None}
    fired = {item.fires_to for item in layout.items.values() if item.fires_to is not None}
    return {*layout.items, *fired, *(stream.item for stream in layout.streams), *held}
