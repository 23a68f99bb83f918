"""What is said again and again of parts that stand in a row, told once: the first in full, for the others where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sim.world.geometry import Cell
from sim.world.statement import Mention, Statement, Value

LONGEST: Final = 3
"""Statements of the longest group that is looked for (a gauge takes two: what it reads, and when it is on)."""
LEAST: Final = 3
"""Times a group must be there to be told once."""


@dataclass(frozen=True, slots=True)
class Told:
    """``statements``: said in full. ``same``: for what else the same holds (None: it is said of this alone)."""

    statements: tuple[Statement, ...]
    same: Statement | None = None


def told_once(statements: Sequence[Statement]) -> list[Told]:
    """The statements in their order, with repeats folded: groups that follow each other and differ by a move alone."""
    found: list[Told] = []
    i = 0
    while i < len(statements):
        length, times = max(
            ((length, _times(statements, i, length)) for length in range(1, LONGEST + 1)),
            key=lambda one: (one[0] * one[1] if one[1] >= LEAST else 0, -one[0]),
        )
        if times < LEAST:
            found.append(Told((statements[i],)))
            i += 1
            continue
        heads = tuple(_first(statements[i + k * length]) for k in range(1, times))
        found.append(Told(tuple(statements[i : i + length]), Statement("sheet.same_for", {"parts": heads})))
        i += length * times
    return found


def form(statements: Sequence[Statement]) -> tuple[object, ...] | None:
    """What statements say, but for where: cells as seen from the first one. None: they name no cell."""
    first = next((cell for one in statements for cell in one.cells), None)
    if first is None:
        return None
    return tuple((one.key, *((name, _moved(value, first)) for name, value in one.values.items())) for one in statements)


def _times(statements: Sequence[Statement], start: int, length: int) -> int:
    group = form(statements[start : start + length])
    if group is None or not statements[start].cells:
        return 1
    times = 1
    while form(statements[start + times * length : start + (times + 1) * length]) == group:
        times += 1
    return times


def _moved(value: Value, origin: Cell) -> object:
    if isinstance(value, Mention):
        x, y, z = (a - b for a, b in zip(value.at, origin, strict=True))
        return value.kind, x, y, z
    return tuple(_moved(one, origin) for one in value) if isinstance(value, tuple) else value


def _first(statement: Statement) -> Mention:
    """The part that a statement is about: the first that it names."""
    values = [one for value in statement.values.values() for one in (value if isinstance(value, tuple) else (value,))]
    return next(value for value in values if isinstance(value, Mention))
