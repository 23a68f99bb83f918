"""A trial: put a load in, run, and tell what was delivered where (formats, "Commands")."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final, Literal

from sim.errors import InputError, nearest
from sim.world.fairness import Lag, jain_index
from sim.world.geometry import Cell
from sim.world.layout import Layout, Stream
from sim.world.parts import Gauge, Slot
from sim.world.rulebook import Rules
from sim.world.signals.wiring import Wiring
from sim.world.world import Finding, World

DEFAULT_LOAD_PER_TARGET: Final = 18
NEVER_RESTS: Final = "never rests"
"""The check that finds a run whose state repeats."""
CYCLE_SEARCH_FROM: Final = 4096
"""Ticks worked through before a run is searched for a cycle, so that ordinary runs pay nothing for it."""

Outcome = Literal["even", "uneven", "nothing", "unfinished"]
"""``nothing``: even, but of some stream of which there was something, nothing was delivered, though the run came to its
end. ``unfinished``: even so far, but it did not come to rest."""

Watcher = Callable[[World], None]
"""Called at tick 0 and after every tick that was worked through, once the load due then is in."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """``count`` items put into the source of a stream after tick ``tick`` (0: before tick 1).

    ``kind``: what they are (None: the stream's item).
    """

    tick: int
    stream: str
    count: int
    kind: str | None = None


@dataclass(slots=True)
class Tally:
    """What has entered the outputs of one stream: items of its kind by output, first and last tick.

    ``given``: items of its kind that its source started with or that were put in since.
    """

    stream: Stream
    held_at_start: int
    given: int
    delivered: list[int] = field(default_factory=list)
    first_arrival: int | None = None
    last_arrival: int | None = None
    _lag_before: Lag = field(default_factory=Lag)

    @property
    def spread(self) -> int:
        """Most delivered minus least delivered."""
        return max(self.delivered) - min(self.delivered)

    @property
    def lag(self) -> Lag:
        """The largest lag, at the end of the present tick."""
        if self.last_arrival is None:
            return self._lag_before
        return self._lag_before.after(self.last_arrival, self.delivered)

    def enter(self, output: int, tick: int) -> None:
        """One item has entered an output. What entered in one tick counts together: lag is that at the tick's end."""
        if tick != self.last_arrival:
            self._lag_before = self.lag
        self.delivered[output] += 1
        self.last_arrival = tick
        if self.first_arrival is None:
            self.first_arrival = tick


@dataclass(frozen=True, slots=True)
class StreamResult:
    """A stream's part of a trial. ``held``: items of its kind in nodes; arrivals in ticks (None: none came).

    ``largest_lag``: the largest spread at the end of any tick, and the tick that first had it (None: there was none).
    ``given``: items of its kind that its source started with or that were put in.
    """

    name: str
    delivered: tuple[int, ...]
    spread: int
    held_at_start: int
    held: int
    first_arrival: int | None
    last_arrival: int | None
    largest_lag: int = 0
    largest_lag_tick: int | None = None
    given: int = 0

    @property
    def is_starved(self) -> bool:
        """There was something to deliver, and nothing was."""
        return self.given > 0 and not any(self.delivered)

    @property
    def jain(self) -> Fraction:
        """Jain's index of what was delivered."""
        return jain_index(self.delivered)


@dataclass(frozen=True, slots=True)
class TrialResult:
    """The state at the end of a trial. ``stopped``: a tick limit ended it before rest without being asked for."""

    tick: int
    at_rest: bool
    streams: tuple[StreamResult, ...]
    contents: Mapping[Cell, tuple[Slot | None, ...]]
    signals: Mapping[Cell, int]
    locked: tuple[Cell, ...]
    findings: tuple[Finding, ...]
    stopped: bool = False

    @property
    def is_even(self) -> bool:
        """Every stream has spread 0."""
        return all(stream.spread == 0 for stream in self.streams)

    @property
    def repeats(self) -> bool:
        """The run was found never to come to rest."""
        return any(finding.check == NEVER_RESTS for finding in self.findings)

    @property
    def is_cut_short(self) -> bool:
        """The run had as many ticks as were asked for, and ended with that before it came to anything."""
        return not (self.at_rest or self.stopped or self.repeats)

    @property
    def outcome(self) -> Outcome:
        """What it came to, of every stream at once. A run that is cut short only had too little time to deliver."""
        if not self.is_even:
            return "uneven"
        if not self.is_cut_short and any(stream.is_starved for stream in self.streams):
            return "nothing"
        return "even" if self.at_rest else "unfinished"


def arrivals_for(
    layout: Layout, loads: Mapping[str, int] | None = None, every: int | None = None
) -> list[Arrival]:
    """The arrivals of a trial: all at once, or (``every``) one before tick 1 and then one after each ``every`` ticks.

    A stream that ``loads`` does not name gets 18 items a target. Raises InputError for a name that is no stream.
    """
    names = [stream.name for stream in layout.streams]
    for name in loads or {}:
        if name not in names:
            raise InputError(f'the layout has no stream "{name}"; {nearest(name, names)}', field="load")
    arrivals = []
    for stream in layout.streams:
        count = (loads or {}).get(stream.name, DEFAULT_LOAD_PER_TARGET * len(stream.outputs))
        if every is None:
            arrivals.append(Arrival(0, stream.name, count))
        else:
            arrivals += [Arrival(i * every, stream.name, 1) for i in range(count)]
    return sorted(arrivals, key=lambda arrival: arrival.tick)


class Trial:
    """A world with its streams counted; loads can be put in one after another.

    ``skip``: pass over ticks in which nothing can happen (same result; off only to test that).
    """

    def __init__(
        self,
        layout: Layout,
        rules: Rules | None = None,
        order: Sequence[Cell] | None = None,
        *,
        wiring: Wiring | None = None,
        watchers: Sequence[Watcher] = (),
        skip: bool = True,
    ) -> None:
        self.layout = layout
        self.world = World(layout, rules, order, wiring=wiring, entered=self._entered)
        self.watchers = watchers
        self.skip = skip
        self.tallies = {
            s.name: Tally(s, self._held(s), self.world.stores[s.source].count(s.item), [0] * len(s.outputs))
            for s in layout.streams
        }
        self._outputs: dict[tuple[Cell, str], list[tuple[Tally, int]]] = {}
        for tally in self.tallies.values():
            for i, cell in enumerate(tally.stream.outputs):
                self._outputs.setdefault((cell, tally.stream.item), []).append((tally, i))

    def run(
        self, arrivals: Iterable[Arrival] = (), *, ticks: int | None = None, limit: int | None = None
    ) -> TrialResult:
        """Run with ``arrivals`` (ticks counted from now) until rest, or for exactly ``ticks`` ticks.

        ``limit`` (ticks) ends a run that does not come to rest. A run whose state repeats never comes to rest: that is
        a finding. An arrival due after the last tick of ``ticks`` is not put in. Raises InputError when a source has
        no room. Cycle search: Brent (1980), at most three times the ticks to the end of the first cycle.
        """
        world, start = self.world, self.world.tick
        coming = _grouped(arrivals, start)
        end = None if ticks is None else start + ticks
        last = None if limit is None else start + limit
        cycle = _CycleSearch(world)
        self._put(coming, start, end)
        world.start()
        self._watch()
        while end is None or world.tick < end:
            if end is None and not coming and (world.is_at_rest() or cycle.closed):
                break
            if last is not None and world.tick >= last:
                return self.result(stopped=True, awaiting=bool(coming))
            changed = world.advance()
            self._put(coming, world.tick, end)
            self._watch()
            if end is None and not coming:
                cycle.look()
            if self.skip and not changed:
                self._skip_quiet(coming, end, last)
        return self.result(ticks=end, cycle=cycle.period, awaiting=bool(coming))

    def result(
        self, *, ticks: int | None = None, cycle: int | None = None, stopped: bool = False, awaiting: bool = False
    ) -> TrialResult:
        """The state as it stands. ``ticks``: the tick to report (default: that of the last change); ``awaiting``: load
        is still to come, so that this is no rest."""
        world, wiring = self.world, self.world.field.wiring
        findings = world.findings()
        if cycle is not None:
            text = f"the build never comes to rest: its state repeats every {cycle} ticks"
            findings.append(Finding(NEVER_RESTS, text, tick=world.tick))
        signals = {part.at: _shown(world, i) for i, part in enumerate(wiring.parts)}
        signals |= dict(zip(wiring.lines, world.field.level, strict=True))
        return TrialResult(
            tick=world.last_change if ticks is None and not stopped else world.tick,
            at_rest=not awaiting and world.is_at_rest(),
            streams=tuple(self._stream_result(tally) for tally in self.tallies.values()),
            contents={cell: store.slots() for cell, store in world.stores.items()},
            signals={part.at: signals[part.at] for part in self.layout.parts if part.at in signals},
            locked=tuple(cell for cell, node in world.nodes.items() if world.is_locked(node)),
            findings=tuple(findings),
            stopped=stopped,
        )

    def _skip_quiet(self, coming: Mapping[int, object], end: int | None, last: int | None) -> None:
        """Pass over the ticks in which nothing can happen, up to the next arrival and the end at most."""
        world = self.world
        quiet = world.quiet_ticks()
        bounds = [tick - world.tick for tick in (end, last) if tick is not None]
        bounds += [min(coming) - world.tick - 1] if coming else []
        bounds += [quiet] if quiet is not None else []
        if bounds and min(bounds) > 0:
            world.skip(min(bounds))

    def _put(self, coming: dict[int, list[Arrival]], tick: int, end: int | None) -> None:
        if tick not in coming or (tick == end and tick > 0):
            return
        streams = {name: tally.stream for name, tally in self.tallies.items()}
        due = coming.pop(tick)
        try:
            self.world.put([(streams[a.stream].source, a.kind or streams[a.stream].item, a.count) for a in due])
        except InputError as error:
            raise InputError(error.fault, field=f"load after tick {tick}") from error
        for arrival in due:
            tally = self.tallies[arrival.stream]
            tally.given += arrival.count if arrival.kind in (None, tally.stream.item) else 0

    def _watch(self) -> None:
        for watcher in self.watchers:
            watcher(self.world)

    def _entered(self, tick: int, cell: Cell, kind: str) -> None:
        for tally, i in self._outputs.get((cell, kind), ()):
            tally.enter(i, tick)

    def _held(self, stream: Stream) -> int:
        return sum(node.store.count(stream.item) for node in self.world.nodes.values())

    def _stream_result(self, tally: Tally) -> StreamResult:
        lag = tally.lag
        return StreamResult(
            tally.stream.name,
            tuple(tally.delivered),
            tally.spread,
            tally.held_at_start,
            self._held(tally.stream),
            tally.first_arrival,
            tally.last_arrival,
            lag.largest,
            lag.tick,
            tally.given,
        )


class _CycleSearch:
    """Brent's cycle search (1980) over the states of a world that gets no more arrivals."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.period: int | None = None
        self._looks, self._next_anchor = 0, CYCLE_SEARCH_FROM
        self._anchor: tuple[int, tuple[object, ...]] | None = None

    @property
    def closed(self) -> bool:
        """The state has repeated."""
        return self.period is not None

    def look(self) -> None:
        """Compare the present state with the anchor, and move the anchor at each doubling."""
        self._looks += 1
        if self._looks < CYCLE_SEARCH_FROM:
            return
        now = self.world.fingerprint()
        if self._anchor is not None and self._anchor[1] == now:
            self.period = self.world.tick - self._anchor[0]
        if self._looks >= self._next_anchor:
            self._anchor = (self.world.tick, now)
            self._next_anchor *= 2


def run_trial(
    layout: Layout,
    arrivals: Iterable[Arrival],
    *,
    ticks: int | None = None,
    limit: int | None = None,
    rules: Rules | None = None,
    order: Sequence[Cell] | None = None,
    watchers: Sequence[Watcher] = (),
    skip: bool = True,
) -> TrialResult:
    """One trial from the starting contents; the arguments are those of ``Trial`` and ``Trial.run``."""
    return Trial(layout, rules, order, watchers=watchers, skip=skip).run(arrivals, ticks=ticks, limit=limit)


def _grouped(arrivals: Iterable[Arrival], start: int) -> dict[int, list[Arrival]]:
    grouped: dict[int, list[Arrival]] = {}
    for arrival in arrivals:
        grouped.setdefault(start + arrival.tick, []).append(arrival)
    return grouped


def _shown(world: World, part: int) -> int:
    """A signal part as trials show it: a gauge's level, else 1 (on, lit) or 0."""
    out = world.field.out[part]
    return out if isinstance(world.field.wiring.parts[part], Gauge) else int(out > 0)
