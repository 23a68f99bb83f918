"""What is left in the nodes at rest, and how to get it out; and what becomes of a build whose outputs are taken away.

Found by trying, in the simulator. Each line, relay, inverter and gauge in turn is taken away from the build as it is at
rest, with all that its nodes hold, and it is run on, in some update orders; each output is taken away, and the default
load put in.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from sim.world.case_file import Case, case_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Holds, Node, Part, SignalPart
from sim.world.rulebook import Rules
from sim.world.statement import Mention, Statement, mention
from sim.world.trial import Arrival, TrialResult, run_trial

TICKS_MOST: Final = 20_000
"""World ticks after which a run without the part is given up."""
ORDERS: Final = 6
"""Random update orders in which a part that helps is tried, besides that of the file."""
OUTPUTS_MOST: Final = 24
"""With more outputs it is not tried what becomes of the others: that would take minutes."""
PARTS_MOST: Final = 120
"""A build with more signal parts is not looked through: that would take minutes."""
SPREAD_MOST: Final = 1
"""Between the outputs, of what comes out: more is no even share of a number that need not divide."""


@dataclass(frozen=True, slots=True)
class Leftovers:
    """``held``: what nodes hold at rest, after a load of ``load`` items. ``part``: to be taken away, None if none
    helps; ``out``: items that come to the outputs then; ``left``: items that stay all the same."""

    held: Mapping[Cell, int]
    load: int
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
    load = sum(held.values()) + sum(sum(stream.delivered) for stream in result.streams)
    contents = {at: result.contents[at] for at in held}
    ways = sorted(_ways(layout, contents, rules), key=lambda way: (way[1], way[0].at))
    for part, left in ways:
        if all(one == left for one in _lefts(layout, part, contents, rules)):
            return Leftovers(held, load, part, sum(held.values()) - left, left)
    return Leftovers(held, load)


def clearing_told(layout: Layout, found: Leftovers) -> Iterator[Statement]:
    """What is said of it."""
    for cell, count in sorted(found.held.items(), key=lambda one: -one[1])[:1]:
        rest = sum(found.held.values()) - count
        key = "operating.waits_elsewhere_too" if rest else "operating.waits"
        yield Statement(key, {"count": count, "node": mention(layout, cell), "rest": rest, "load": found.load})
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
        left = _left_without(layout, gone, held, rules)
        if left is not None and left < before:
            yield gone, left


def _lefts(layout: Layout, gone: Part, held: Mapping[Cell, Holds], rules: Rules) -> Iterator[int | None]:
    """What stays without the part in some update orders at random."""
    machines, rng = [part.at for part in layout.machines], random.Random(0)
    for _ in range(ORDERS):
        yield _left_without(layout, gone, held, rules, rng.sample(machines, len(machines)))


def _left_without(
    layout: Layout, gone: Part, held: Mapping[Cell, Holds], rules: Rules, order: Sequence[Cell] | None = None
) -> int | None:
    """Items that stay in the nodes without the part; None where what comes out is not shared out evenly."""
    without = replace(layout, parts=tuple(part for part in layout.parts if part is not gone))
    result = run_trial(case_layout(without, Case(holds=held)), (), limit=TICKS_MOST, rules=rules, order=order)
    uneven = max(stream.spread for stream in result.streams) > SPREAD_MOST
    if uneven or not result.at_rest or result.findings:
        return None
    return sum(_count(result.contents[part.at]) for part in layout.parts if isinstance(part, Node))


def without_an_output(layout: Layout, per: int, rules: Rules) -> Iterator[Statement]:
    """What becomes of the others when an output is taken away, each in turn, and ``per`` items for each come at once.

    Nothing where there are too many, or where the build does not split that load as it is. Time: one run an output.
    """
    targets = list(dict.fromkeys(cell for stream in layout.streams for cell in stream.outputs))
    if not 2 < len(targets) <= OUTPUTS_MOST:
        return
    arrivals = [Arrival(0, stream.name, per * len(stream.outputs)) for stream in layout.streams]
    whole = run_trial(layout, arrivals, limit=TICKS_MOST, rules=rules)
    if not whole.is_even or not whole.at_rest:
        return
    for gone in targets:
        streams = (
            replace(stream, outputs=tuple(cell for cell in stream.outputs if cell != gone)) for stream in layout.streams
        )
        parts = tuple(part for part in layout.parts if part.at != gone)
        without = replace(layout, parts=parts, streams=tuple(streams))
        result = run_trial(without, arrivals, limit=TICKS_MOST, rules=rules)
        for stream in result.streams:
            if stream.spread > SPREAD_MOST or not sum(stream.delivered):
                shares = "/".join(map(str, stream.delivered))
                yield Statement("operating.take_away_not", {"part": mention(layout, gone), "shares": shares})
                return
    yield Statement("operating.take_away")


def _count(slots: Holds) -> int:
    return sum(slot[1] for slot in slots if slot is not None)
