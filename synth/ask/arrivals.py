"""The arrival patterns that a candidate for streams is tried with: every fixed gap, and gaps drawn by lot."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Final

GAPS: Final = range(1, 41)
"""Ticks between one item and the next, in the trials with fixed gaps."""
DRAWN: Final = 12
"""Patterns drawn by lot, each from its own seed: 0, 1, ..."""
LONGEST_GAP: Final = 40
AWKWARD: Final = (1, 7, 8, 9, 10, 15, 16, 17, 24)
"""Gaps around one, two and three periods of eight ticks."""

Draw = Callable[[random.Random], int]
_DRAWS: Final[tuple[Draw, ...]] = (
    lambda rng: rng.randint(0, LONGEST_GAP),
    lambda rng: rng.choice(AWKWARD),
    lambda rng: rng.choice((0, 0, 0, rng.randint(1, 3 * LONGEST_GAP))),
)
"""Gaps of every length alike; awkward ones; a few items together, then a pause."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """When items come, one by one. ``ticks``: of each item (0: before tick 1)."""

    name: str
    ticks: tuple[int, ...]


def fixed(gap: int, items: int) -> Pattern:
    """One item after every ``gap`` ticks."""
    return Pattern(f"every {gap}", tuple(range(0, gap * items, gap)))


def drawn(seed: int, items: int) -> Pattern:
    """Gaps drawn by lot; the seed tells from which of three draws."""
    rng, draw, ticks = random.Random(seed), _DRAWS[seed % len(_DRAWS)], [0]
    while len(ticks) < items:
        ticks.append(ticks[-1] + draw(rng))
    return Pattern(f"seed {seed}", tuple(ticks))


@cache
def patterns(items: int) -> tuple[Pattern, ...]:
    """All that a candidate is tried with, of so many items; those that most often find a fault first."""
    return (*(drawn(seed, items) for seed in range(DRAWN)), *(fixed(gap, items) for gap in GAPS))
