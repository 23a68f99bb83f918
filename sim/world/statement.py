"""A fact about a layout or a run, free of any language: what is said (a key) of which parts, items and numbers.

What finds facts (``sim.analysis.workings``, ``sim.analysis.mishap``, ``sim.analysis.building``) makes statements;
``splitwright.words`` says them, in the words that a reader has chosen. A fact does not depend on how it is put, and a
sentence can point to its cells.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from sim.world.geometry import Cell, Direction
from sim.world.layout import Layout


@dataclass(frozen=True, slots=True)
class Mention:
    """A part that is spoken of. ``kind``: as in files ("gauge"; "cell" where nothing stands, "ground" below z = 0)."""

    kind: str
    at: Cell


@dataclass(frozen=True, slots=True)
class ItemWord:
    """An item kind that is spoken of, as in files ("clay")."""

    kind: str


@dataclass(frozen=True, slots=True)
class Toward:
    """A direction that is spoken of."""

    direction: Direction


Value = int | str | Mention | tuple[Mention, ...] | ItemWord | Toward


@dataclass(frozen=True, slots=True)
class Statement:
    """``key``: which sentence ("workings.gauge_reads"), one of those in ``specs/words``; ``values``: what fills it."""

    key: str
    values: Mapping[str, Value] = field(default_factory=dict)

    @property
    def cells(self) -> tuple[Cell, ...]:
        """Every cell that is spoken of, in the order of the values, each once."""
        found: dict[Cell, None] = {}
        for value in self.values.values():
            for mention in value if isinstance(value, tuple) else (value,):
                if isinstance(mention, Mention):
                    found.setdefault(mention.at)
        return tuple(found)


def mention(layout: Layout, cell: Cell) -> Mention:
    """What stands in ``cell``, as something that is spoken of."""
    part = layout.by_cell.get(cell)
    return Mention("ground" if part is None and cell[2] < 0 else "cell" if part is None else part.kind, cell)


def mentions(layout: Layout, cells: Iterable[Cell]) -> tuple[Mention, ...]:
    """What stands in the cells, as things that are spoken of together."""
    return tuple(mention(layout, cell) for cell in cells)
