"""How to run a build, from the verdicts on it: what to put in, when to put in more, what not to do.

Nothing is said but what a verdict says; where that is known of one handover alone, the advice names it. Loads and
numbers are of each stream where there are several.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from sim.analysis.assure.verdict import About, Answer, Question, Verdict
from sim.world.layout import Layout
from sim.world.rulebook import Rules
from sim.world.statement import ItemWord, Statement, Value, mentions

BLOCKED: Final = "an output that takes nothing"
"""The hazard that tells of a furnace that is full (``hazards``)."""


def operating(layout: Layout, verdicts: Sequence[Verdict], rules: Rules) -> list[Statement]:
    """The advice on running ``layout``, most needed first; empty where nothing was asked that it could come from. Where
    it is not the same under each handover, that under each one behind the other. Where there are several streams, first
    which item goes into which bins.
    """
    advice = _advice_and_trouble(verdicts, rules)
    return [*_what_goes_where(layout), *advice] if advice and len(layout.streams) > 1 else advice


def _what_goes_where(layout: Layout) -> Iterator[Statement]:
    for item in dict.fromkeys(stream.item for stream in layout.streams):
        sources = dict.fromkeys(stream.source for stream in layout.streams if stream.item == item)
        key = "operating.into" if len(sources) == 1 else "operating.into_each"
        yield Statement(key, {"item": ItemWord(item), "bins": mentions(layout, sources)})


def _advice_and_trouble(verdicts: Sequence[Verdict], rules: Rules) -> list[Statement]:
    handovers = dict.fromkeys(one.handover for one in verdicts if one.handover is not None)
    each = {h: _advice([one for one in verdicts if one.handover in (h, None)], rules) for h in handovers}
    trouble = list(_trouble(_Found(verdicts)))
    if len({tuple(one.key for one in advice) for advice in each.values()}) <= 1:
        return [*_advice(verdicts, rules), *trouble]
    under = {h: (Statement("operating.under", {"handover": h}), *advice) for h, advice in each.items() if advice}
    told = [one for advice in under.values() for one in advice]
    return [*told, *trouble]


def _advice(verdicts: Sequence[Verdict], rules: Rules) -> list[Statement]:
    found = _Found(verdicts)
    return [*_whole_loads(found), *_other_loads(found), *_one_after_another(found, rules)]


class _Found:
    """The verdicts by what they are about."""

    def __init__(self, verdicts: Sequence[Verdict]) -> None:
        self.verdicts = verdicts

    def of(self, question: Question, about: About = "", answer: Answer | None = None) -> list[Verdict]:
        """Those of a question, part of it and answer."""
        mine = [one for one in self.verdicts if one.question == question and one.about == about]
        return [one for one in mine if answer in (None, one.verdict)]

    def said(self, key: str, verdicts: Sequence[Verdict], **values: Value) -> Iterator[Statement]:
        """The sentence; nothing for no verdict."""
        if verdicts:
            yield Statement(f"operating.{key}", values)

    def refused(self, key: str, *verdicts: Verdict) -> Iterator[Statement]:
        """The sentence, with what the first verdict says."""
        yield from self.said(key, verdicts, **({"text": verdicts[0].text} if verdicts else {}))


def _whole_loads(found: _Found) -> Iterator[Statement]:
    proved = [one for one in found.of("load", "multiples", "proved") if one.noted["least"]]
    least = max((one.noted["least"] for one in found.of("load", "any number", "proved")), default=0)
    if proved:
        noted = proved[0].noted
        if noted["start"]:
            yield Statement("operating.fill", {"count": noted["start"]})
        if least > noted["first"]:
            yield Statement("operating.least", {"least": least})
        n, most = noted["first"], noted["most"]
        begins = -(-least // n) * n
        if begins > n:
            yield Statement("operating.whole_from", {"begins": begins, "n": n, "most": most})
        else:
            yield Statement("operating.whole", {"n": n, "most": most})
    yield from found.refused("whole_not", *found.of("load", "multiples", "refuted"))


def _other_loads(found: _Found) -> Iterator[Statement]:
    proved = [one for one in found.of("load", "any number", "proved") if one.noted["least"]]
    if proved:
        held, start = max(one.noted["held"] for one in proved), proved[0].noted["start"]
        key = "rest_shared" if not held else "rest_waits_beyond" if start else "rest_waits"
        yield from found.said(key, proved, held=held, start=start)
    if not found.of("arrivals", answer="proved"):
        yield from found.said("sizes_mixed", found.of("drift", "any number", "proved"))
    yield from found.refused("sizes_not_mixed", *found.of("drift", "any number", "refuted"))


def _one_after_another(found: _Found, rules: Rules) -> Iterator[Statement]:
    proved = found.of("arrivals", answer="proved")
    yield from found.said("refill", proved)
    refuted = [one for one in (*found.of("arrivals"), *found.of("gaps")) if one.verdict == "refuted"]
    yield from found.refused("refill_not", *refuted)
    if not refuted and not proved and (tried := [one for one in found.of("gaps") if one.verdict != "open"]):
        yield Statement("operating.refill_tried", {"cases": sum(one.cases for one in tried)})
    if refuted and (resting := found.of("drift", "multiples", "proved")):
        ticks = max(one.noted["ticks"] for one in resting)
        seconds = -(-ticks // rules.ticks_per_second)
        yield Statement("operating.wait", {"n": resting[0].noted["first"], "ticks": ticks, "seconds": seconds})


def _trouble(found: _Found) -> Iterator[Statement]:
    for one in found.of("hazards"):
        if one.scope == BLOCKED and one.verdict != "open":
            yield Statement("operating.blocked", {"text": one.text})
            return
