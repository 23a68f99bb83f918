"""What a trial written down holds."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Slot
from sim.world.rulebook import Rules
from sim.world.trial import Arrival, TrialResult

Steps = tuple[tuple[int, int], ...]
"""A step function of time: (tick, value at the end of that tick). The first step is that at tick 0 (before tick 1, with
the load in); then only changes, so that two steps in a row differ."""


class Move(NamedTuple):
    """One item goes from ``source`` to ``target`` in ``tick``.

    ``source`` None: put in from outside after ``tick`` (loads before tick 1 are no moves: they stand in the start).
    """

    tick: int
    kind: str
    source: Cell | None
    target: Cell


class Firing(NamedTuple):
    """In ``tick`` one ``kind`` in the furnace became one ``product``."""

    tick: int
    furnace: Cell
    kind: str
    product: str


class Burning(NamedTuple):
    """In ``tick`` the furnace took one ``fuel`` to light its fire."""

    tick: int
    furnace: Cell
    fuel: str


Event = Move | Firing | Burning


@dataclass(frozen=True)
class Recording:
    """A trial written down; ``result`` is what the trial itself gives.

    ``rules``: those in force. ``arrivals``: what was to be put in. ``last_tick``: the last tick that was run; nothing
    changed after ``result.tick`` where the run came to rest. ``start``: contents before tick 1, load in. ``events``:
    all that changed what containers hold, in the order in which it happened. ``signals``: lines and gauges by level,
    relays and inverters 1 (on, lit) or 0; ``locks``: each node, 1 locked; ``delivered``: for each stream and output (in
    the stream's order) how many items of the stream's kind have come in so far.

    ``result.stopped``: it ended early, at ``last_tick``, and tells of that stretch alone.
    """

    layout: Layout
    rules: Rules
    result: TrialResult
    arrivals: tuple[Arrival, ...]
    last_tick: int
    start: Mapping[Cell, tuple[Slot | None, ...]]
    events: tuple[Event, ...]
    signals: Mapping[Cell, Steps]
    locks: Mapping[Cell, Steps]
    delivered: Mapping[str, tuple[Steps, ...]]

    @cached_property
    def moves(self) -> tuple[Move, ...]:
        """Every move of an item, in the order in which they happened."""
        return tuple(event for event in self.events if isinstance(event, Move))

    @cached_property
    def fired(self) -> tuple[Firing, ...]:
        """Every item that was fired, in the order in which it happened."""
        return tuple(event for event in self.events if isinstance(event, Firing))

    @cached_property
    def burnt(self) -> tuple[Burning, ...]:
        """Every item of fuel that was used up, in the order in which it happened."""
        return tuple(event for event in self.events if isinstance(event, Burning))


def value_at(steps: Steps, tick: int) -> int:
    """The value of a step function at the end of ``tick`` (0 or later). Logarithmic in the steps."""
    return steps[bisect_right(steps, tick, key=lambda step: step[0]) - 1][1]
