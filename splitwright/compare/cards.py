"""A card for each layout of a comparison: its measures, what its trials came to, small plans of its layers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from sim.world.layout import Layout
from splitwright.cli.measuring import OUTCOME_PHRASES, DefaultRun
from splitwright.compare.columns import title_of
from splitwright.compare.comparison import Compared, Comparison, Standing
from splitwright.drawing.layer_plan import layer_plan
from splitwright.drawing.svg import markup
from splitwright.sheet.figures import Measure, built_measures, came, latency_measure, whole_load_measure
from splitwright.words import Words

PLANS_MOST: Final = 24
"""Layouts whose plans are drawn: the rest would make the page heavy, and have their own sheets."""


@dataclass(frozen=True, slots=True)
class Card:
    """``runs``: a line a handover. ``standing``, ``standing_line``: how it stands to the others, for the plots' list.
    ``plans``: caption and picture of each layer, from the ground up (none: left out)."""

    entry: Compared
    name: str
    measures: list[Measure]
    runs: list[str]
    standing: Standing
    standing_line: str
    plans: list[tuple[str, Markup]]


def cards_of(comparison: Comparison, words: Words) -> list[Card]:
    """The cards, by rank."""
    return [
        Card(
            entry,
            words.text("compare.name", number=entry.number, title=title_of(entry, words)),
            list(_measures(comparison, entry, words)),
            [_run(run, words) for run in entry.runs] or [_untried(entry, words)],
            standing,
            _standing_line(comparison, entry, standing, words),
            list(_plans(entry.layout, words)) if entry.number <= PLANS_MOST else [],
        )
        for entry, standing in zip(comparison.entries, comparison.standings, strict=True)
    ]


def _measures(comparison: Comparison, entry: Compared, words: Words) -> Iterator[Measure]:
    yield from built_measures(entry.built, words, priced=comparison.priced)
    if entry.latency is not None:
        yield latency_measure(entry.latency, comparison.ticks_per_second, words)
    if entry.throughput is not None and comparison.rate == "products":
        yield Measure(words.text("compare.products"), words.number(entry.throughput))
    elif entry.throughput is not None:
        yield whole_load_measure(entry.throughput, words)
    if entry.steady is not None:
        yield Measure(words.text("compare.steady_line"), words.text("measure.steady_value", n=round(entry.steady)))


def _run(run: DefaultRun, words: Words) -> str:
    outcome = words.text(OUTCOME_PHRASES[run.outcome])
    told = [words.text("compare.run", handover=run.handover, load=run.per_target, outcome=outcome)]
    for name, delivered in run.delivered.items():
        told.append(words.text("compare.run_stream", name=name, come=came(delivered, words)))
    return "; ".join(told)


def _untried(entry: Compared, words: Words) -> str:
    return words.text("compare.no_room" if entry.layout.streams else "compare.no_stream")


def _standing_line(comparison: Comparison, entry: Compared, standing: Standing, words: Words) -> str:
    name = words.text("compare.name", number=entry.number, title=title_of(entry, words))
    built = entry.built
    if entry.latency is None:
        line = words.text("compare.bare_line", name=name, volume=built.volume, parts=built.parts)
    else:
        line = words.text(
            "compare.standing_line", name=name, volume=built.volume, parts=built.parts, latency=entry.latency
        )
    return f"{line} {_standing(comparison, entry, standing, words)}"


def _standing(comparison: Comparison, entry: Compared, standing: Standing, words: Words) -> str:
    if standing == "front":
        return words.text("compare.on_front")
    if standing == "beaten":
        return words.text("compare.beaten_by", numbers=", ".join(map(words.number, comparison.beaten_by(entry))))
    if not entry.runs:
        return words.text("compare.apart_untried")
    nothing_came = entry.runs[0].outcome in ("nothing", "even")  # even, but one item an output does not all arrive
    return words.text("compare.apart_nothing" if nothing_came else "compare.apart_uneven")


def _plans(layout: Layout, words: Words) -> Iterator[tuple[str, Markup]]:
    for z in range(layout.size[2]):
        yield words.text("compare.layer", layer=z), markup(layer_plan(layout, z, words, has_rose=z == 0))
