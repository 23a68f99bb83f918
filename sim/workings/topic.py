"""Statements about one side of a layout."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sim.geometry import Cell
from sim.layout import Layout
from sim.statement import Mention, Statement, mention


@dataclass(frozen=True, slots=True)
class Topic:
    """``key``: items, gauges, wires, locks, logic or timing (its title is the phrase "workings.title_..."). In
    ``statements`` those that belong together follow each other."""

    key: str
    statements: tuple[Statement, ...]


def mentions(layout: Layout, cells: Iterable[Cell]) -> tuple[Mention, ...]:
    """What stands in the cells, as things that are spoken of together."""
    return tuple(mention(layout, cell) for cell in cells)
