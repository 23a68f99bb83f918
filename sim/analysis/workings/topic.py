"""Statements about one side of a layout."""

from __future__ import annotations

from dataclasses import dataclass

from sim.world.statement import Statement


@dataclass(frozen=True, slots=True)
class Topic:
    """``key``: items, gauges, wires, locks, logic or timing (its title is the phrase "workings.title_..."). In
    ``statements`` those that belong together follow each other."""

    key: str
    statements: tuple[Statement, ...]
