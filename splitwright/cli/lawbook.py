"""The rulebook in force for a layout: each number with what it is from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from sim.world.layout import Layout
from sim.world.rulebook import Entry, Rulebook

BY_LAYOUT: Final = "layout"
"""Provenance of a number that a layout sets in place of the rulebook's."""


@dataclass(frozen=True, slots=True)
class Law:
    """A number in force; ``layout_value``: what a layout puts in its place (None: nothing)."""

    entry: Entry
    layout_value: int | None = None

    @property
    def value(self) -> int:
        """What counts."""
        return self.entry.value if self.layout_value is None else self.layout_value

    @property
    def provenance(self) -> str:
        """Where it is from."""
        return self.entry.provenance if self.layout_value is None else BY_LAYOUT


def laws_in_force(book: Rulebook, layout: Layout | None) -> list[Law]:
    """Every number of a rulebook, with what a layout puts in its place."""
    overrides = {} if layout is None else overrides_of(layout)
    return [Law(entry, overrides.get(entry.name)) for entry in book.entries]


def overrides_of(layout: Layout) -> Mapping[str, int]:
    """What a layout puts in the place of the rulebook's numbers; a fuel that it lists counts as ``burn.KIND``."""
    burns = {f"burn.{kind}": item.burn for kind, item in layout.items.items()}
    return {**layout.rules, **burns}
