"""How to run a build, from the verdicts on it: what to put in, when to put in more, what not to do.

Nothing is said but what a verdict says; where that is known of one handover alone, the advice names it. Loads and
numbers are of each stream where there are several.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from sim.assure.verdict import About, Question, Verdict
from sim.rulebook import Rules
from sim.statement import Statement, Value

BLOCKED: Final = "an output that takes nothing"
"""The hazard that tells of a furnace that is full, or taken away (``hazards``)."""


def operating(verdicts: Sequence[Verdict], rules: Rules) -> list[Statement]:
    """The advice, most needed first; empty where nothing was asked that it could come from."""
    found = _Found(verdicts)
    return [*_whole_loads(found), *_other_loads(found), *_one_after_another(found, rules), *_trouble(found)]


class _Found:
    """The verdicts by what they are about."""

    def __init__(self, verdicts: Sequence[Verdict]) -> None:
        self.verdicts = verdicts
        self.every = len({one.handover for one in verdicts if one.handover is not None})

    def of(self, question: Question, about: About = "") -> list[Verdict]:
        return [one for one in self.verdicts if one.question == question and one.about == about]

    def proved(self, question: Question, about: About = "") -> list[Verdict]:
        return [one for one in self.of(question, about) if one.verdict == "proved"]

    def refuted(self, question: Question, about: About = "") -> Verdict | None:
        return next((one for one in self.of(question, about) if one.verdict == "refuted"), None)

    def said(self, key: str, verdicts: Sequence[Verdict], **values: Value) -> Iterator[Statement]:
        """The sentence, with the handovers where it does not hold under all that were asked about; none for no
        verdict."""
        if verdicts:
            yield Statement(f"operating.{key}", values)
            if len(verdicts) < self.every:
                under = ", ".join(str(one.handover) for one in verdicts)
                yield Statement("operating.only_under", {"handover": under})


def _whole_loads(found: _Found) -> Iterator[Statement]:
    proved = found.proved("load", "multiples")
    if proved and all(one.noted["least"] for one in proved):
        noted = proved[0].noted
        yield from found.said("whole", proved, n=noted["first"], most=noted["most"])
        if noted["least"] > noted["first"]:
            yield Statement("operating.least", {"least": noted["least"]})
    elif (refuted := found.refuted("load", "multiples")) is not None:
        yield Statement("operating.whole_not", {"text": refuted.text})


def _other_loads(found: _Found) -> Iterator[Statement]:
    proved, any_order = found.proved("load", "any number"), found.proved("drift", "any number")
    if proved and all(one.noted["least"] for one in proved):
        held = max(one.noted["held"] for one in proved)
        yield from found.said("rest_waits" if held else "rest_shared", proved, held=held)
    if not found.proved("arrivals"):
        yield from found.said("sizes_mixed", any_order)
    if (refuted := found.refuted("drift", "any number")) is not None:
        yield Statement("operating.sizes_not_mixed", {"text": refuted.text})


def _one_after_another(found: _Found, rules: Rules) -> Iterator[Statement]:
    arrivals = found.proved("arrivals")
    yield from found.said("refill", arrivals)
    refuted = found.refuted("arrivals") or found.refuted("gaps")
    if refuted is not None:
        yield Statement("operating.refill_not", {"text": refuted.text})
    elif not arrivals and (tried := [one for one in found.of("gaps") if one.verdict in ("tried", "proved")]):
        yield Statement("operating.refill_tried", {"cases": sum(one.cases for one in tried)})
    loads = found.proved("load", "multiples")
    if refuted is not None and found.proved("drift", "multiples") and loads:
        slowest = max(loads, key=lambda one: one.noted["ticks"])
        ticks = slowest.noted["ticks"]
        seconds = -(-ticks // rules.ticks_per_second)
        yield Statement("operating.wait", {"n": slowest.noted["least"], "ticks": ticks, "seconds": seconds})


def _trouble(found: _Found) -> Iterator[Statement]:
    for one in found.of("hazards"):
        if one.scope == BLOCKED and one.verdict != "open":
            yield Statement("operating.blocked", {"text": one.text})
            return
