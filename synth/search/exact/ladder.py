"""How a search stands, for whoever watches it: the boxes in question with their verdicts, the measure, the bound."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from synth.search.result import Step, Verdict

RungState = Literal["waiting", "searching"] | Verdict


@dataclass(frozen=True, slots=True)
class Rung:
    """One box. ``left`` of ``cubes`` are not settled; ``parts``: asked for layouts with at most that many."""

    box: tuple[int, int, int]
    state: RungState
    left: int
    cubes: int
    seconds: float
    parts: int | None
    note: str


@dataclass(frozen=True, slots=True)
class Ladder:
    """``best`` and ``bound`` of the ``measure`` in hand (None: none yet); ``steps``: the measures that are done."""

    measure: str
    best: float | None
    bound: float | None
    rungs: Sequence[Rung]
    steps: Sequence[Step]
