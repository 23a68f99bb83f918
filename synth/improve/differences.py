"""Where a layout differs from a build: as a list of changes between two layouts, and what it costs in the model."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Part, Relay, direction_of
from synth.model.clauses import FALSE, Lit
from synth.model.decode import reading_order
from synth.model.vocabulary import Vocabulary

Action = Literal["add", "remove", "turn", "set", "replace"]
"""Another direction is a turn; another delay or finish alone is set."""


@dataclass(frozen=True, slots=True)
class Change:
    """What is to be done in one cell. ``before``, ``after``: the part there (None: none)."""

    before: Part | None
    after: Part | None

    @property
    def at(self) -> Cell:
        """The cell."""
        return self._part.at

    @property
    def kind(self) -> str:
        """The kind of the part that comes, or, where none does, of the one that goes."""
        return self._part.kind

    @property
    def _part(self) -> Part:
        part = self.after or self.before
        assert part is not None
        return part

    @property
    def action(self) -> Action:
        """What kind of change it is."""
        if self.before is None:
            return "add"
        if self.after is None:
            return "remove"
        if self.before.kind != self.after.kind:
            return "replace"
        return "turn" if direction_of(self.before) != direction_of(self.after) else "set"

    def cost(self, prices: Mapping[str, int]) -> int:
        """The price of the part that comes into the cell; 1 where one only goes."""
        return 1 if self.after is None else prices.get(self.after.kind, 1)


def is_same(before: Part | None, after: Part | None) -> bool:
    """The same kind, direction, delay and finish (contents are not what a builder changes)."""
    if before is None or after is None:
        return before is after
    return (before.kind, direction_of(before), _setting(before)) == (after.kind, direction_of(after), _setting(after))


def _setting(part: Part) -> int | str | None:
    match part:
        case Relay(delay=delay):
            return delay
        case Bin(finish=finish):
            return finish
    return None


def changes_between(before: Layout, after: Layout) -> list[Change]:
    """What is to be done to the one to have the other, in reading order."""
    cells = sorted({*before.by_cell, *after.by_cell}, key=reading_order)
    pairs = [(before.by_cell.get(cell), after.by_cell.get(cell)) for cell in cells]
    return [Change(old, new) for old, new in pairs if not is_same(old, new)]


def cost_terms(v: Vocabulary, same: Mapping[Cell, Lit], prices: Mapping[str, int]) -> list[tuple[Lit, int]]:
    """Terms whose sum is what the changes cost; where all parts cost alike, one a cell."""
    terms: list[tuple[Lit, int]] = []
    for cell, lit in same.items():
        terms.append((-lit, 1))
        for kind, price in prices.items():
            names = ("row", "drop") if kind == "node" else (kind,)
            here = v.clauses.any_of(lit for name in names for lit in v.of_name(cell, name))
            if price > 1:
                terms.append((v.clauses.both(-lit, here), price - 1))
    return [(lit, weight) for lit, weight in terms if lit != FALSE]
