"""What is left in the nodes at rest, and how to get it out: the one signal part to take away for a while.

Found by trying, in the simulator: each line, relay, inverter and gauge in turn is taken away from the build as it is at
rest, with all that its nodes hold, and it is run on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from sim.case_file import Case, case_layout
from sim.geometry import Cell
from sim.layout import Layout
from sim.parts import Holds, Node, Part, SignalPart
from sim.rulebook import Rules
from sim.statement import Mention, Statement, mention
from sim.trial import TrialResult, run_trial

TICKS_MOST: Final = 20_000
"""World ticks after which a run without the part is given up."""
PARTS_MOST: Final = 120
"""A build with more signal parts is not looked through: that would take minutes."""
SPREAD_MOST: Final = 1
"""Between the outputs, of what comes out: more is no even share of a number that need not divide."""


@dataclass(frozen=True, slots=True)
class Leftovers:
    """``held``: what nodes hold at rest. ``part``: to be taken away, None if none of them helps; ``out``: items that
    come to the outputs then; ``left``: items that stay all the same."""

    held: Mapping[Cell, int]
    part: Part | None = None
    out: int = 0
    left: int = 0


def clearing(layout: Layout, result: TrialResult, rules: Rules) -> Leftovers | None:
    """What a trial of the layout left in its nodes, and how to get most of it out, shared out evenly (or as evenly as
    its number allows). None: nothing is left, or the build starts with some in its nodes, or does not rest.

    Time: one run for each signal part.
    """
    nodes = [part for part in layout.parts if isinstance(part, Node)]
    held = {part.at: count for part in nodes if (count := _count(result.contents[part.at]))}
    if not held or not result.at_rest or any(part.holds for part in nodes):
        return None
    ways = sorted(_ways(layout, {at: result.contents[at] for at in held}, rules), key=lambda way: (way[1], way[0].at))
    if not ways:
        return Leftovers(held)
    part, left = ways[0]
    return Leftovers(held, part, sum(held.values()) - left, left)


def clearing_told(layout: Layout, found: Leftovers) -> Iterator[Statement]:
    """What is said of it."""
    for cell, count in sorted(found.held.items(), key=lambda one: -one[1])[:1]:
        rest = sum(found.held.values()) - count
        key = "operating.waits_elsewhere_too" if rest else "operating.waits"
        yield Statement(key, {"count": count, "node": mention(layout, cell), "rest": rest})
    if found.part is not None:
        part = Mention(found.part.kind, found.part.at)
        key = "operating.clear_all" if not found.left else "operating.clear"
        yield Statement(key, {"part": part, "out": found.out, "left": found.left})


def _ways(layout: Layout, held: Mapping[Cell, Holds], rules: Rules) -> Iterator[tuple[Part, int]]:
    """Signal parts without which some of it comes out evenly, and what stays then."""
    parts = [part for part in layout.parts if isinstance(part, SignalPart) or part.kind == "line"]
    if len(parts) > PARTS_MOST:
        return
    before = sum(_count(slots) for slots in held.values())
    for gone in parts:
        without = replace(layout, parts=tuple(part for part in layout.parts if part is not gone))
        result = run_trial(case_layout(without, Case(holds=held)), (), limit=TICKS_MOST, rules=rules)
        left = sum(_count(result.contents[part.at]) for part in layout.parts if isinstance(part, Node))
        spread = max(stream.spread for stream in result.streams)
        if result.at_rest and left < before and spread <= SPREAD_MOST and not result.findings:
            yield gone, left


def _count(slots: Holds) -> int:
    return sum(slot[1] for slot in slots if slot is not None)
