"""Writing a trial down while it runs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final

from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Gauge, Slot
from sim.world.recording.recording import Burning, Event, Firing, Move, Recording, Steps
from sim.world.rulebook import Rules
from sim.world.trial import Arrival, Trial, TrialResult, arrivals_for
from sim.world.world import World

LIMIT_TICKS: Final = 1_000_000
"""Ticks after which a run that does not come to rest is given up: 14 hours of the world."""
ENTRIES_MOST: Final = 2_000_000
"""Moves and changes that are written down at most: a bound on memory (some 100 bytes each)."""


def record(
    layout: Layout,
    *,
    rules: Rules | None = None,
    arrivals: Iterable[Arrival] | None = None,
    loads: Mapping[str, int] | None = None,
    every: int | None = None,
    order: Sequence[Cell] | None = None,
    ticks: int | None = None,
    limit: int = LIMIT_TICKS,
    entries_most: int = ENTRIES_MOST,
) -> Recording:
    """Run a trial as ``sim.world.trial`` does, with the same result, and write down all that happens in it.

    What is put in: ``arrivals``, or that of ``loads`` and ``every`` (``arrivals_for``; default: 18 items a target at
    once). ``ticks``: run for exactly so many, else to rest. ``limit`` (ticks) and ``entries_most`` (moves, firings and
    changes; passed by those of one tick at most) end a run early: then ``result.stopped`` is set. Raises InputError as
    ``Trial.run`` and ``arrivals_for``; ValueError for ``arrivals`` beside ``loads`` or ``every``.

    Memory: linear in the moves and changes. Time: that of the trial, and one look at every signal part, line and node
    for each tick in which a signal changed; ticks in which nothing can happen are skipped, as in a trial.
    """
    if arrivals is not None and (loads is not None or every is not None):
        raise ValueError("arrivals say what is put in; loads and every go without them")
    coming = tuple(arrivals_for(layout, loads, every) if arrivals is None else arrivals)
    trial = Trial(layout, rules, order)
    recorder = _Recorder(trial, entries_most)
    trial.world.witness = recorder
    trial.watchers = (recorder,)
    try:
        result = trial.run(coming, ticks=ticks, limit=limit if ticks is None else None)
    except _Full:
        result = trial.result(stopped=True, awaiting=any(arrival.tick > trial.world.tick for arrival in coming))
    return recorder.recording(coming, result)


class _Full(Exception):
    """As much is written down as is allowed."""


class _Recorder:
    """Witness and watcher of one trial: notes what happens in a tick, and at its end what the signals show."""

    def __init__(self, trial: Trial, entries_most: int) -> None:
        self._trial, self._entries_most = trial, entries_most
        self._start: dict[Cell, tuple[Slot | None, ...]] | None = None
        self._events: list[Event] = []
        field = trial.world.field
        self._outs = _Family(field.out, [isinstance(part, Gauge) for part in field.wiring.parts])
        self._levels = _Family(field.level)
        self._locks = _Family(field.locked)
        self._delivered = {name: _Family(tally.delivered) for name, tally in trial.tallies.items()}
        self._families = [self._outs, self._levels, self._locks, *self._delivered.values()]

    # -- the witness: what containers hold

    def put(self, tick: int, kind: str, count: int, target: Cell) -> None:
        """Items put in later than at the start are moves from nowhere."""
        if self._start is not None:
            self._events += [Move(tick, kind, None, target)] * count

    def moved(self, tick: int, kind: str, source: Cell, target: Cell) -> None:
        """One item goes from container to container."""
        self._events.append(Move(tick, kind, source, target))

    def worked(self, tick: int, furnace: Cell, before: tuple[Slot | None, ...]) -> None:
        """A furnace's turn takes one item of fuel, or fires one item, or both, in this order."""
        feed, fuel, product = self._trial.world.stores[furnace].slots()
        if before[1] is not None and fuel != before[1]:
            self._events.append(Burning(tick, furnace, before[1][0]))
        if before[0] is not None and feed != before[0]:
            assert product is not None
            self._events.append(Firing(tick, furnace, before[0][0], product[0]))

    # -- the watcher: what the signals show at the end of a tick

    def __call__(self, world: World) -> None:
        """Note what has changed by the end of the present tick. Raises _Full when that is enough."""
        if self._start is None:
            self._start = {cell: store.slots() for cell, store in world.stores.items()}
        for family in self._families:
            family.look(world.tick)
        if len(self._events) + sum(family.changes for family in self._families) > self._entries_most:
            raise _Full

    def recording(self, arrivals: tuple[Arrival, ...], result: TrialResult) -> Recording:
        """All of it, with the trial's own result."""
        world, layout = self._trial.world, self._trial.layout
        assert self._start is not None, "the watcher is called at tick 0"
        wiring = world.field.wiring
        signals = dict(zip((part.at for part in wiring.parts), self._outs.steps(), strict=True))
        signals |= dict(zip(wiring.lines, self._levels.steps(), strict=True))
        return Recording(
            layout=layout,
            rules=world.rules,
            result=result,
            arrivals=arrivals,
            last_tick=world.tick,
            start=self._start,
            events=tuple(self._events),
            signals={part.at: signals[part.at] for part in layout.parts if part.at in signals},
            locks=dict(zip(world.nodes, self._locks.steps(), strict=True)),
            delivered={name: tuple(family.steps()) for name, family in self._delivered.items()},
        )


class _Family:
    """Numbers of one sort (``now``, which the world changes in place) and how they have changed.

    ``as_levels``: for each whether it is noted as it is, else as 1 (above 0) or 0; default: all as they are.
    """

    def __init__(self, now: Sequence[int], as_levels: Sequence[bool] | None = None) -> None:
        self._now = now
        self._as_levels = [True] * len(now) if as_levels is None else as_levels
        self._before: list[int] | None = None
        self._steps: list[list[tuple[int, int]]] = [[] for _ in now]
        self.changes = 0

    def look(self, tick: int) -> None:
        """Note what has changed since the last look; at the first one everything is noted."""
        if self._now == self._before:
            return
        for i, value in enumerate(self._now):
            shown = int(value) if self._as_levels[i] else int(value > 0)
            steps = self._steps[i]
            if not steps or steps[-1][1] != shown:
                steps.append((tick, shown))
                self.changes += 1
        self._before = list(self._now)

    def steps(self) -> Iterator[Steps]:
        """The step functions, in the order of the numbers."""
        return map(tuple, self._steps)
