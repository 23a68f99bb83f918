"""What a builder does with a split and how that goes (``sim.analysis.assure.uses``), as sentences."""

from __future__ import annotations

from collections.abc import Iterable

from sim.analysis.assure.uses import UseTold
from splitwright.words.words import Words


def use_line(told: UseTold, words: Words) -> str:
    """``Trickling in: not even, 3 items, one every 9 ticks, come to 2 / 1 / 0.``"""
    return f"{words.text(told.said)}: {goes(told, words)}."


def goes(told: UseTold, words: Words) -> str:
    """The answer alone, without a full stop; where handovers differ, each by name."""
    parts = []
    for handover, answer in told.answers:
        under = "" if handover is None else f"{words.text('goes.under', handover=handover)} "
        parts.append(under + words.text(answer))
    return "; ".join(parts)


def use_lines(told: Iterable[UseTold], words: Words) -> list[str]:
    """A line a use, in the given order."""
    return [use_line(one, words) for one in told]
