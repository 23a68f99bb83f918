"""Which boxes are filled with which palettes."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Final

from sim.world.rulebook import default_rules

from .choices import (
    BINS,
    DROP,
    EMPTY_CELL,
    FURNACES,
    GAUGES,
    HEAD,
    INVERTERS,
    LINES,
    RELAYS,
    SOLID,
    TAIL,
    Choice,
)
from .model_side import Size

REACH: Final = default_rules().reach
STACK: Final = default_rules().stack
SMALL: Final = 4
"""Boxes of up to so many cells are filled with everything."""
MOST: Final = 6

EVERYTHING: Final = (EMPTY_CELL, SOLID, FURNACES, LINES, *INVERTERS, *RELAYS, *GAUGES, HEAD, TAIL, DROP, BINS)
"""Every part in every direction; the nodes by their roles in the row."""
ONE_NODE: Final = (EMPTY_CELL, SOLID, LINES, *INVERTERS, *RELAYS, *GAUGES, HEAD)
"""Every wiring part in every direction, one solid part, one node."""
WITH_INVERTERS: Final = (SOLID, LINES, *INVERTERS, HEAD)
WITH_RELAYS: Final = (LINES, INVERTERS[-1], *RELAYS)
WITH_GAUGES: Final = (SOLID, LINES, *GAUGES, HEAD, TAIL)
MIXED: Final = (LINES, INVERTERS[-1], RELAYS[0], GAUGES[2], HEAD)
FEW: Final = (SOLID, LINES, INVERTERS[0], INVERTERS[-1], RELAYS[0])


@dataclass(frozen=True, slots=True)
class Plan:
    """All fillings of one box with one palette."""

    size: Size
    palette: tuple[Choice, ...]
    reach: int = REACH

    @property
    def cells(self) -> int:
        """Cells in the box."""
        w, d, h = self.size
        return w * d * h

    @property
    def assignments(self) -> int:
        """How many fillings there are."""
        return len(self.palette) ** self.cells

    def __str__(self) -> str:
        return f"{'x'.join(map(str, self.size))}, {len(self.palette)} choices, reach {self.reach}"


def shapes(cells: int) -> list[Size]:
    """Boxes of just that many cells; from four on not deeper than wide: the palettes look the same from all sides, so
    a box that lies across has the same fillings, turned by a quarter."""
    sides = range(1, cells + 1)
    boxes = [(w, d, h) for w, d, h in product(sides, repeat=3) if w * d * h == cells]
    return [box for box in boxes if cells < 4 or box[0] >= box[1]]


def all_plans() -> list[Plan]:
    """Every box of up to ``MOST`` cells; and runs of lines whose reach ends before the box does."""
    plans = [Plan(box, EVERYTHING) for cells in range(1, SMALL + 1) for box in shapes(cells)]
    plans += [Plan(box, ONE_NODE) for cells in range(SMALL + 1, MOST + 1) for box in shapes(cells)]
    return plans + [Plan(box, FEW, reach=3) for box in ((3, 1, 2), (3, 2, 1), (6, 1, 1))]


def a_share() -> list[Plan]:
    """All but the wide boxes of ``MOST`` cells, which have most fillings that can stand: these with fewer parts."""
    wide = [box for box in shapes(MOST) if box[0] > 2]
    palettes = (WITH_INVERTERS, WITH_RELAYS, WITH_GAUGES, MIXED)
    fewer = [Plan(box, palette if box[2] == 1 else _with_support(palette)) for box in wide for palette in palettes]
    return [plan for plan in all_plans() if plan.palette != ONE_NODE or plan.size not in wide] + fewer


def _with_support(palette: tuple[Choice, ...]) -> tuple[Choice, ...]:
    """What stands in an upper layer needs something solid below."""
    return palette if SOLID in palette else (SOLID, *palette)
