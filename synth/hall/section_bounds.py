"""What cross-sections rule out, kept (specs/pieces/sections.json), and the bound on whole halls that follows.

Columns of a wing cost what the least box costs that holds its cross-section; heads, tails and corners come on top. A
claim counts only under the laws, the numbers and the model that it was proved under (``proofs_digest``).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

from sim.datafiles import data_dir
from sim.world.rulebook import Rules
from synth.hall.cross_section import SCOPE, Schemes, SectionAnswer, SectionQuestion, settle_section
from synth.hall.pieces import RowPieces
from synth.solving.proofs_rest_on import SECTIONS, proofs_digest


def boxes_below(area: int) -> list[tuple[int, int]]:
    """Boxes of lanes and layers of less area, such that each box of less area lies within one of them."""
    every = [(lanes, (area - 1) // lanes) for lanes in range(1, area)]
    return [box for box in every if not any(_within(box, other) for other in every if other != box)]


def boxes_of(area: int) -> list[tuple[int, int]]:
    """All boxes of lanes and layers of that area."""
    return [(lanes, area // lanes) for lanes in range(1, area + 1) if area % lanes == 0]


def settle_boxes(schemes: Schemes, wings: int, area: int, limit_s: float) -> Iterator[SectionAnswer]:
    """Whether all boxes of less area are ruled out, and each box of that area."""
    for lanes, layers in (*boxes_below(area), *boxes_of(area)):
        yield settle_section(SectionQuestion(lanes, layers, schemes, wings), limit_s)


def _within(box: tuple[int, int], other: tuple[int, int]) -> bool:
    return box[0] <= other[0] and box[1] <= other[1]


@dataclass(frozen=True, slots=True)
class SectionBound:
    """``cells`` of the least box that holds a section of so many ``wings``, ``lanes`` x ``layers``, with ``parts``, the
    fewest in that box; smaller ones are ruled out."""

    wings: int
    cells: int
    lanes: int
    layers: int
    parts: int

    def of(self, furnaces: int) -> int:
        """Cells that a hall of so many furnaces takes at least, all its wings standing so many across."""
        return -(-furnaces * self.cells // self.wings)


ALIKE: Final = 3
"""Columns behind the head that are alike, at least, so that one of them stands between two like it."""


def hall_bound(
    rows: tuple[RowPieces, RowPieces], furnaces: Iterable[int], rules: Rules, across: int = 1
) -> SectionBound | None:
    """What is kept of halls whose wings have rows like these, feed and fuel, and so many furnaces each, so many across.

    None: nothing is; or no wing is so long that its columns repeat, so that nothing is said of it.
    """
    feed, fuel = rows
    if max(furnaces) - max(feed.lead, fuel.lead) < ALIKE:
        return None
    return section_bound((feed.scheme, fuel.scheme), rules, across)


def section_bound(schemes: tuple[str, str], rules: Rules, wings: int = 1) -> SectionBound | None:
    """What is kept of rows of these schemes and holds under these rules; None: nothing is, or a smaller box is open."""
    document = _kept()
    if document.get("rests_on") != proofs_digest(rules, SECTIONS):
        return None
    kept = [one for one in document["sections"] if tuple(one["schemes"]) == schemes and one["wings"] == wings]
    ruled_out = [(one["lanes"], one["layers"]) for one in kept if one["verdict"] == "none exists"]
    found = [one for one in kept if one["verdict"] == "found" and one["proved"]]
    for one in sorted(found, key=lambda one: (one["lanes"] * one["layers"], one["parts"])):
        area = one["lanes"] * one["layers"]
        if all(any(_within(box, other) for other in ruled_out) for box in boxes_below(area)):
            return SectionBound(wings, area, one["lanes"], one["layers"], one["parts"])
        return None
    return None


def document_of(answers: Sequence[SectionAnswer], rules: Rules) -> dict[str, Any]:
    """What is kept of these answers."""
    sections = [
        {
            "schemes": list(one.question.schemes),
            "wings": one.question.wings,
            "period": one.question.period,
            "lanes": one.question.lanes,
            "layers": one.question.layers,
            "verdict": one.outcome,
            "proved": one.proved,
            "parts": len(one.parts),
            "seconds": one.seconds,
        }
        for one in answers
    ]
    rests_on = proofs_digest(rules, SECTIONS)
    return {"format": "splitwright-sections/1", "rests_on": rests_on, "scope": SCOPE, "sections": sections}


def sections_file() -> Path:
    """The sections that come with splitwright."""
    return data_dir("pieces") / "sections.json"


@cache
def _kept() -> dict[str, Any]:
    document: dict[str, Any] = json.loads(sections_file().read_text(encoding="utf-8"))
    return document
