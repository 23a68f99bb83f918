"""What the verdicts say of each thing that a builder does with a split: tip a load in, let it trickle, and so on.

The one home of these sentences: the commands, the sheet and the comparison say them from here. A use is told once for
all handovers where its answer is the same under each, else under each one by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import lcm
from typing import Final, Literal

from sim.analysis.assure.verdict import Answer, Verdict
from sim.world.fairness import is_even
from sim.world.layout import Layout
from sim.world.statement import Statement, Value

Use = Literal["whole", "whole_again", "any", "any_again", "trickling", "orders", "handover", "overheating"]
Holds = Answer | Literal["nothing", "mixed"]
"""``nothing``: proved, but nothing comes out; ``mixed``: not the same under each handover."""

_PICKS: Final[Mapping[Use, Callable[[Verdict], bool]]] = {
    "whole": lambda one: one.question == "load" and one.about == "multiples",
    "whole_again": lambda one: one.question == "drift" and one.about == "multiples",
    "any": lambda one: one.question == "load" and one.about == "any number",
    "any_again": lambda one: one.question == "drift" and one.about == "any number",
    "trickling": lambda one: one.question in ("gaps", "arrivals"),
    "orders": lambda one: one.question == "orders",
    "handover": lambda one: one.question == "handover",
    "overheating": lambda one: one.question == "overheating",
}
"""Which verdicts tell how a use goes, in the order in which a builder asks."""
_AS_FAR_AS_IT_GOES: Final[Sequence[Use]] = ("any", "any_again", "trickling")
"""Uses of which "even" means: as even as the number allows."""


@dataclass(frozen=True, slots=True)
class UseTold:
    """One use and how it goes. ``said``: the use; ``answers``: how it goes, under which handover (None: under each that
    was asked about).

    ``holds``: for whoever sorts uses into "when it stays even" and "when not".
    """

    use: Use
    holds: Holds
    said: Statement
    answers: tuple[tuple[int | None, Statement], ...]


def uses_told(layout: Layout, verdicts: Iterable[Verdict]) -> list[UseTold]:
    """How each use goes, of those that the verdicts tell of. ``layout``: the one that they are about."""
    known = [one for one in verdicts if one.decides]
    n = lcm(*(len(stream.outputs) or 1 for stream in layout.streams))
    several = len(layout.streams) > 1
    return [told for use in _PICKS if (told := _told(use, known, n, several)) is not None]


def _told(use: Use, verdicts: Sequence[Verdict], n: int, several: bool) -> UseTold | None:
    mine = [one for one in verdicts if _PICKS[use](one)]
    if not mine:
        return None
    handovers = list(dict.fromkeys(one.handover for one in mine))
    each = {h: _answer(use, [one for one in mine if one.handover == h], n, several) for h in handovers}
    said = Statement(f"use.{use}", {"n": n, "twice": 2 * n})
    found = [holds for holds, _ in each.values()]
    if len(set(found)) == 1:
        return UseTold(use, found[0], said, ((None, next(iter(each.values()))[1]),))
    return UseTold(use, "mixed", said, tuple((h, answer) for h, (_, answer) in each.items()))


def _answer(use: Use, verdicts: Sequence[Verdict], n: int, several: bool) -> tuple[Holds, Statement]:
    """All in all: the least answer decides. What every arrival was searched for says more than gaps tried.

    ``n``: the smallest whole load; where that is not enough for every output to get some, the answer says which is.
    """
    refuted = [one for one in verdicts if one.verdict == "refuted"]
    if refuted:
        return "refuted", _refuted(use, refuted, several)
    deciding = [one for one in verdicts if one.question != "gaps"] or verdicts
    found = {one.verdict for one in deciding}
    holds: Holds = next(answer for answer in ("open", "tried", "proved") if answer in found)
    if use == "overheating":
        return holds, Statement(f"goes.cool_{holds}")
    if holds == "proved" and any(one.noted.get("least", 1) == 0 for one in deciding):
        return "nothing", Statement("goes.nothing")
    if holds == "tried":
        return holds, Statement("goes.tried", {"cases": sum(one.cases for one in deciding)})
    part = "_as_can_be" if holds == "proved" and use in _AS_FAR_AS_IT_GOES else ""
    least = max((one.noted.get("least", 0) for one in deciding), default=0)
    if holds == "proved" and least > n:
        return holds, Statement(f"goes.proved{part}_from", {"least": least})
    return holds, Statement(f"goes.{holds}{part}")


def _refuted(use: Use, refuted: Sequence[Verdict], several: bool) -> Statement:
    """With the shortest case that shows it, where there is one."""
    if use == "overheating":
        return Statement("goes.hot")
    shown = [one.counterexample for one in refuted if one.counterexample is not None]
    if not shown:
        return Statement("goes.not")
    case = min(shown, key=lambda one: sum(a.count for a in one.case.arrivals if a.stream == one.stream))
    arrivals = [one for one in case.case.arrivals if one.stream == case.stream and one.count]
    if is_even(case.delivered):
        return Statement("goes.no_rest", {"count": sum(one.count for one in arrivals)})
    shares = " / ".join(map(str, case.delivered))
    values: dict[str, Value] = {"shares": f"{case.stream} {shares}" if several else shares}
    gaps = {later.tick - one.tick for one, later in pairwise(arrivals)}
    if use == "trickling":
        values["count"] = sum(one.count for one in arrivals)
        if len(gaps) == 1 and all(one.count == 1 for one in arrivals):
            return Statement("goes.not_every", {**values, "gap": gaps.pop()})
        return Statement("goes.not_with_gaps", values)
    return Statement("goes.not_of", {**values, "loads": " + ".join(str(one.count) for one in arrivals)})
