"""Straight chains of signal parts behind a bin that a node empties: as layouts, and what is in the bin when.

::

    z=2   bin  gauge  ...the chain, one cell a part, eastward...
    z=1   node  #      #  #  #
            (the node pulls from the bin and pushes nowhere)
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import pairwise

from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.trial import Arrival, Trial
from sim.world.world import World

SLOT = 28
"""The bin's one slot holds 28, so that the fill level of n items is 1 + n/2, rounded down (none: 0)."""

Token = str
"""One cell of a chain: g gauge, r1-r4 relay with its delay, i inverter on the support before it, s support, l line."""
Changes = list[tuple[int, int]]
"""(tick, value): the value at tick 0, then each change."""


def fill_level(items: int) -> int:
    """Rulebook section 4, worked out for the bin of these layouts."""
    return 1 + 14 * items // SLOT if items else 0


def chain_layout(tokens: Sequence[Token], period: int = 8, *, westward: bool = False) -> Layout:
    """The chain as a build; token number i stands at x = i + 1. ``westward``: the file order is from east to west."""
    parts: list[Part] = [Bin((0, 0, 2)), Node((0, 0, 1), "W")]
    for x, token in enumerate(tokens, 1):
        parts.append(Support((x, 0, 1)))
        at = (x, 0, 2)
        match token[0]:
            case "g":
                parts.append(Gauge(at, "E"))
            case "r":
                parts.append(Relay(at, "E", int(token[1])))
            case "i":
                parts.append(Inverter(at, "W"))
            case "s":
                parts.append(Support(at))
            case "l":
                parts.append(Line(at))
    return Layout(
        " ".join(tokens),
        (len(tokens) + 1, 1, 3),
        {"clay": ItemKind(SLOT)},
        tuple(reversed(parts) if westward else parts),
        (Stream("feed", "clay", (0, 0, 2), ((0, 0, 1),)),),
        {"bin_slots": 1, "period": period},
    )


def random_chain(rng: random.Random, stages: int) -> list[Token]:
    """A gauge and ``stages`` relays and inverters, with lines and supports between them wherever they carry on.

    Before the first stage there is one line at most: a low level does not get further.
    """
    tokens: list[Token] = ["g"]
    lines_left = 1
    while stages:
        last, before = tokens[-1], tokens[-2:-1]
        powered = before and before[0][0] in "gr"  # what a support needs to feed a line: a strong source
        after = {"g": "lrs", "r": "lrs", "i": "lr", "l": "lrs", "s": "rri" + "l" * bool(powered)}[last[0]]
        token = rng.choice([t for t in after if t != "l" or lines_left])
        if token == "l":
            lines_left -= 1
        if token in "ri":
            stages, lines_left = stages - 1, 4
        tokens.append(f"r{rng.randint(1, 4)}" if token == "r" else token)
    return tokens


def in_the_bin(arrivals: Sequence[tuple[int, int]], period: int = 8) -> Changes:
    """(tick, items in the bin) at tick 0 and after each change: ``arrivals`` are (tick, items) put in after that tick.

    The node takes one item as soon as its cooldown allows, then rests for a period (rulebook section 3).
    """
    changes: list[tuple[int, int]] = [] if arrivals and arrivals[0][0] == 0 else [(0, 0)]
    ready, items = 1, 0
    for (tick, count), (following, _) in pairwise([*arrivals, (10**9, 0)]):
        items += count
        changes.append((tick, items))
        while items and (turn := max(ready, tick + 1)) <= following:
            items, ready = items - 1, turn + period
            changes.append((turn, items))
    return changes


def simulated_traces(layout: Layout, arrivals: Sequence[tuple[int, int]], ticks: int) -> dict[int, Changes]:
    """What the simulator shows of each signal part and line, by its x: whole traces of ``ticks`` ticks."""
    traces: dict[int, Changes] = {}

    def watch(world: World) -> None:
        for cell, value in trial.result().signals.items():
            trace = traces.setdefault(cell[0], [])
            if not trace or trace[-1][1] != value:
                trace.append((world.tick, value))

    trial = Trial(layout, watchers=[watch])
    trial.run([Arrival(tick, "feed", count) for tick, count in arrivals], ticks=ticks)
    return traces
