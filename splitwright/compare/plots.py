"""The three plots of a comparison: each two of volume, parts and latency."""

from __future__ import annotations

from itertools import combinations

from markupsafe import Markup

from splitwright.compare.comparison import MEASURES, Comparison
from splitwright.drawing.scatter import Spot, scatter
from splitwright.drawing.svg import markup
from splitwright.words import Words
from synth.search.front import staircase


def plots_of(comparison: Comparison, words: Words) -> list[Markup]:
    """Volume against parts, volume against latency, parts against latency; none when nothing can be compared.

    Layouts that are not compared show where they have all three measures.
    """
    shown = [
        (entry, standing)
        for entry, standing in zip(comparison.entries, comparison.standings, strict=True)
        if entry.latency is not None
    ]
    if all(standing == "apart" for _, standing in shown):
        return []
    values = [(entry.built.volume, entry.built.parts, entry.latency or 0) for entry, _ in shown]
    headings = (words.text("measure.volume"), words.text("measure.parts"), words.text("compare.latency"))
    plots = []
    for i, j in combinations(range(len(MEASURES)), 2):
        spots = [
            Spot(entry.number, value[i], value[j], standing)
            for (entry, standing), value in zip(shown, values, strict=True)
        ]
        stairs = staircase([(spot.x, spot.y) for spot in spots if spot.standing != "apart"])
        plots.append(markup(scatter(spots, stairs, (headings[i], headings[j]), words)))
    return plots
