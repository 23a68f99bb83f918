"""The first block of a sheet: when the split stays even, when not, what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sim.analysis.assure.uses import Holds, UseTold, uses_told
from sim.world.layout import Layout
from splitwright.words import Words
from splitwright.words.uses import use_line

if TYPE_CHECKING:
    from sim.analysis.assure.verdict import Verdict

UNDECIDED: Final = "sheet.undecided"
HEADINGS: Final[tuple[tuple[str, frozenset[Holds]], ...]] = (
    ("sheet.stays_even", frozenset({"proved", "tried"})),
    ("sheet.not_even", frozenset({"refuted", "nothing"})),
    ("sheet.depends", frozenset({"mixed"})),
    (UNDECIDED, frozenset({"open"})),
)
"""A phrase for each heading, and how a use must go to stand below it."""
HEAT: Final = "overheating"
"""A use that says nothing of evenness, and stands below no heading."""


@dataclass(frozen=True, slots=True)
class Stands:
    """``groups``: a heading (a phrase) with its lines; ``heat``: a line on what overheats ("": not asked)."""

    groups: tuple[tuple[str, tuple[str, ...]], ...]
    heat: str


def stands(layout: Layout, verdicts: Iterable[Verdict], words: Words) -> Stands:
    """The block, from the verdicts; without any its groups are empty."""
    told = uses_told(layout, verdicts)

    def line(one: UseTold) -> str:
        """Below its heading an open one has no answer to add."""
        return f"{words.text(one.said)}." if one.holds == "open" else use_line(one, words)

    groups = [
        (heading, tuple(line(one) for one in told if one.holds in holds and one.use != HEAT))
        for heading, holds in HEADINGS
    ]
    groups = [
        (heading, (*lines, words.text("sheet.undecided_next")) if lines and heading == UNDECIDED else lines)
        for heading, lines in groups
    ]
    heat = next((use_line(one, words) for one in told if one.use == HEAT), "")
    return Stands(tuple((heading, lines) for heading, lines in groups if lines), heat[:1].upper() + heat[1:])
