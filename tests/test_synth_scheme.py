"""The scheme's delay windows against ideal locks: rows whose locks follow T0 and TN after just the delays asked for."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import pytest

from burst_lock_table import LOCK_TABLE
from sim.world.geometry import Cell
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Furnace, Node, Part
from sim.world.rulebook import default_rules
from sim.world.world import World
from synth.schemes.burst_row import head_window, tail_window

RULES = default_rules()
ROWS = (2, 3, 4, 5, 6)
HANDOVERS = (8, 7)
HEAD_DELAY = 4
LOADS = ((1, 1), (2, 1), (7, 2))
"""(items a target, times without reset)."""
QUIET = 2 * RULES.period + 16
"""Ticks without any change after which nothing can come: longer than every cooldown and every delay tried."""


def row_of(outputs: int, handover: int) -> Layout:
    """The row of the scheme, west to east, with no signal part at all."""
    parts: list[Part] = [Bin((0, 0, 3))]
    parts += [Node((i, 0, 2), "E") for i in range(outputs + 1)]
    parts += [Node((i, 0, 1), "D") for i in range(1, outputs + 1)]
    parts += [Furnace((i, 0, 0)) for i in range(1, outputs + 1)]
    targets = tuple((i, 0, 0) for i in range(1, outputs + 1))
    stream = Stream("feed", "clay", (0, 0, 3), targets)
    items = {"clay": ItemKind(stack=64, fires_to="brick")}
    return Layout("", (outputs + 1, 1, 4), items, tuple(parts), (stream,), {"handover": handover})


@dataclass
class Delayed:
    """Whether a node holds something, as known ``delay`` ticks later. Changes at the end of tick t (0: by the load)
    show in the machine phase of tick t + delay, as if a signal of that delay had brought them."""

    delay: int
    changes: list[tuple[int, bool]] = field(default_factory=lambda: [(-1000, False)])

    def note(self, tick: int, holds: bool) -> None:
        if self.changes[-1][1] != holds:
            self.changes.append((tick, holds))

    def at(self, tick: int) -> bool:
        return next(holds for since, holds in reversed(self.changes) if since + self.delay <= tick)


class IdealLocks(World):
    """A world whose B nodes are locked just when the lock table says so of T0 and TN some ticks ago."""

    def arrange(self, outputs: int, head_delay: int, tail_delay: int) -> None:
        self.ends: dict[Cell, Delayed] = {(0, 0, 2): Delayed(head_delay), (outputs, 0, 2): Delayed(tail_delay)}

    def advance(self) -> bool:
        # there are no signal parts, so that the field stays as it is set here
        head, tail = (end.at(self.tick + 1) for end in self.ends.values())
        locked = next(row.locked for row in LOCK_TABLE if (row.head_holds, row.tail_holds) == (head, tail))
        for node in self.nodes.values():
            self.field.locked[node.number] = locked and node.at[2] == 1
        changed = super().advance()
        for cell, end in self.ends.items():
            end.note(self.tick, not self.stores[cell].is_empty())
        return changed


def splits(
    outputs: int, handover: int, tail_delay: int, order: Sequence[Cell] | None = None, head_delay: int = HEAD_DELAY
) -> bool:
    """All loads come out even, with every node empty at the end."""
    return all(_run(outputs, handover, head_delay, tail_delay, order, each, times) for each, times in LOADS)


def _run(
    outputs: int, handover: int, head: int, tail: int, order: Sequence[Cell] | None, each: int, times: int
) -> bool:
    world = IdealLocks(row_of(outputs, handover), order=order)
    world.arrange(outputs, head, tail)
    for turn in range(1, times + 1):
        world.put([((0, 0, 3), "clay", each * outputs)])
        quiet = 0
        while quiet < QUIET:
            quiet = 0 if world.advance() else quiet + 1
            assert world.tick < 20_000
        delivered = {world.stores[(i, 0, 0)].count("clay") for i in range(1, outputs + 1)}
        if delivered != {each * turn} or any(not node.store.is_empty() for node in world.nodes.values()):
            return False
    return True


def orders(outputs: int) -> list[list[Cell]]:
    """Update orders of every sort: the row's, backward, locks first, targets first, and some at random."""
    cells = [part.at for part in row_of(outputs, 8).machines]
    layer = {z: [cell for cell in cells if cell[2] == z] for z in range(3)}
    rng = random.Random(outputs)
    chance = [rng.sample(cells, len(cells)) for _ in range(3)]
    return [
        cells,
        cells[::-1],
        layer[1] + layer[2] + layer[0],
        layer[1] + layer[2][::-1] + layer[0],
        layer[2][::-1] + layer[1] + layer[0],
        *chance,
    ]


@pytest.mark.parametrize("handover", HANDOVERS)
@pytest.mark.parametrize("outputs", ROWS)
def test_the_tail_window_is_just_where_the_split_is_even(outputs: int, handover: int) -> None:
    """Every even delay from TN to the locks: inside the window even in every order; outside uneven in some order, with
    some head delay that the scheme allows (of two kilns, those that hear of T0 late)."""
    window = tail_window(RULES, outputs, handover)
    for delay in range(0, RULES.period + 5, 2):
        tries = ((order, head) for head in (HEAD_DELAY, head_window(RULES).most) for order in orders(outputs))
        uneven = [(order, head) for order, head in tries if not splits(outputs, handover, delay, order, head)]
        assert (not uneven) == (window.least <= delay <= window.most), (delay, uneven)


@pytest.mark.parametrize("handover", HANDOVERS)
@pytest.mark.parametrize("outputs", [2, 3, 5])
def test_the_head_may_take_a_period(outputs: int, handover: int) -> None:
    """The delay from T0 to the locks does not matter up to the period, for a delay inside the tail window."""
    window = tail_window(RULES, outputs, handover)
    tail = window.most // 2 * 2
    assert window.least <= tail
    most = head_window(RULES).most
    assert most == RULES.period
    for head in range(2, most + 1, 2):
        assert all(splits(outputs, handover, tail, order, head) for order in orders(outputs)), head


def test_a_head_that_takes_much_longer_is_too_late() -> None:
    """Beyond the period the first items leave the row before it is locked."""
    late = [splits(3, 8, 4, order, head_window(RULES).most + 2 * RULES.period) for order in orders(3)]
    assert not all(late)


def test_the_windows_follow_the_rules_in_force() -> None:
    """By hand, period 8: a handover of 8 leaves (0, 7); 7 lets each node run one tick ahead of the one before."""
    assert (tail_window(RULES, 5, 8).least, tail_window(RULES, 5, 8).most) == (0, 7)
    assert (tail_window(RULES, 5, 7).least, tail_window(RULES, 5, 7).most) == (5, 7)
    too_long = tail_window(RULES, 8, 7)
    assert too_long.least > too_long.most
    slow = replace(RULES, period=10, handover=10)
    assert (tail_window(slow, 4, 10).most, head_window(slow).most) == (9, 10)
