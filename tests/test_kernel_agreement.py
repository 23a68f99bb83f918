"""The compiled kernel against the readable simulator: tick by tick, run to rest, many orders in one call, sinks.

The builds are those of ``oracle.random_builds`` and the brickyard layouts in ``specs``.
"""

from __future__ import annotations

import os
import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sim.errors import InputError
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, Direction
from sim.world.items.furnace import PRODUCT
from sim.world.kernel import batch
from sim.world.kernel import places as p
from sim.world.kernel.memory import new_memory, restore
from sim.world.kernel.run import Run
from sim.world.kernel.running import AT_REST, STOPPED
from sim.world.kernel.tables import Tables
from sim.world.layout import Layout, Stream
from sim.world.parts import Bin, Furnace, Node, Relay
from sim.world.signals.wants import is_latched, relay_input
from sim.world.trial import Arrival, Trial, arrivals_for
from sim.world.world import World
from worlds import random_run

BUILDS = int(os.environ.get("SPLITWRIGHT_KERNEL_BUILDS", "2000"))
"""Random builds compared tick by tick, fewer in the other comparisons; raise it for a longer run."""
GROUPS = 16
FEW_GROUPS = 4
"""Of the comparisons with fewer builds."""
TICKS = (30, 60, 150)
"""Ticks after which a build is left."""
REST_LIMIT = 800
WAITS = 100
"""Longest wait for something that comes to nothing, before the kernel knows that it is at rest."""
SINK_TICKS = 120
ORDERS = 4
STRANGE = "grit"
"""An item kind that the layouts do not list."""
SPECS = Path(__file__).resolve().parent.parent / "specs"
PLANS = sorted([*(SPECS / "layouts").glob("*.plan"), *(SPECS / "results").glob("*.plan")])
Load = tuple[Cell, str, int]
Build = tuple[str, random.Random, Layout, dict[str, Any]]


class Both:
    """One build in the simulator and in the kernel. ``seen``: what has happened in it, and how often."""

    def __init__(self, layout: Layout, order: Sequence[Cell] | None = None) -> None:
        self.layout = layout
        self.trial = Trial(layout, order=order)
        self.tables = Tables(layout, kinds=(STRANGE,))
        self.run = Run(self.tables, order)
        self.seen: Counter[str] = Counter()
        tally = self.world.entered
        assert tally is not None

        def entered(tick: int, cell: Cell, kind: str) -> None:
            self.seen["item moved"] += 1
            tally(tick, cell, kind)

        self.world.entered = entered
        self._relays = [i for i, part in enumerate(self.world.field.wiring.parts) if isinstance(part, Relay)]

    @property
    def world(self) -> World:
        return self.trial.world

    def put(self, load: Load) -> None:
        """The load into both; where there is no room for all of it, into neither."""
        try:
            self.world.put([load])
        except InputError:
            self.seen["load refused"] += 1
            return
        assert self.run.put(*load) == load[2]

    def start(self) -> None:
        self.world.start()
        self.run.start()

    def advance(self) -> None:
        """One tick of both; they must agree on whether anything changed."""
        before, products = list(self.world.field.out), self._products()
        changed = self.world.advance()
        assert self.run.advance() == changed, self.world.tick
        if changed:
            self._look(before, products)

    def compare(self) -> None:
        """All that a run has, in both; what the kernel has is read off a copy, so that looking changes nothing."""
        ours, theirs = kernel_state(self.run), world_state(self.trial, self.tables)
        assert ours == theirs, f"tick {self.world.tick}"

    def _look(self, before: Sequence[int], products: int) -> None:
        world, field = self.world, self.world.field
        for i in self._relays:
            self.seen["relay latched"] += is_latched(field, i)
            came_on = field.out[i] > 0 and not before[i]
            again = world.timing.due[i] == world.tick + world.timing.delays[i]
            self.seen["short pulse stretched"] += came_on and again and not relay_input(field, i)
        self.seen["inverter overheated"] += len(world.timing.overheated)
        self.seen["furnace lit"] += any(furnace.fire for furnace in world.furnaces.values())
        self.seen["item fired"] += self._products() > products
        self.seen["node locked"] += any(field.locked)
        self.seen["signal changed"] += field.out != before

    def _products(self) -> int:
        return sum(furnace.store.counts[PRODUCT] for furnace in self.world.furnaces.values())


def kernel_state(run: Run) -> dict[str, Any]:
    """The state of a run of the kernel that has started, as plain lists. Parts that are pending: in their order."""
    copy = run.s.copy()
    restore(run.tables.w, copy, run.m, run.tick)
    s: list[int] = copy.tolist()
    w: list[int] = run.tables.w[: p.HEADER].tolist()

    def read(at: int, size: int) -> list[int]:
        return s[w[at] : w[at] + w[size]]

    due = read(p.DUE, p.PARTS)
    queue = s[w[p.QUEUE] : w[p.QUEUE] + s[p.PENDING]]
    return {
        "tick": s[p.TICK],
        "last change": s[p.LAST_CHANGE],
        "out": read(p.OUT, p.PARTS),
        "due": due,
        "queue": sorted(queue, key=lambda part: due[part]),
        "strong": read(p.STRONG, p.SOLIDS),
        "energised": read(p.ENERGISED, p.SOLIDS),
        "level": read(p.LEVEL, p.LINES),
        "locked": read(p.LOCKED, p.NODES),
        "kinds": read(p.KIND, p.SLOTS),
        "counts": read(p.COUNT, p.SLOTS),
        "fire": read(p.FIRE, p.FURNACES),
        "progress": read(p.PROGRESS, p.FURNACES),
        "delivered": read(p.DELIVERED, p.OUTPUTS),
        "first arrival": read(p.FIRST_ARRIVAL, p.STREAMS),
        "last arrival": read(p.LAST_ARRIVAL, p.STREAMS),
        "overheated": read(p.OVERHEATED, p.PARTS),
    }


def world_state(trial: Trial, tables: Tables) -> dict[str, Any]:
    """The same of the simulator; kinds by the kernel's numbers, p.NOTHING for None."""
    world, field, timing = trial.world, trial.world.field, trial.world.timing
    stores = world.stores.values()
    overheated = dict(timing.overheated)
    numbers: dict[str | None, int] = {None: p.NOTHING}
    numbers.update(tables.kind_no)
    return {
        "tick": world.tick,
        "last change": world.last_change,
        "out": field.out,
        "due": _numbers(timing.due),
        "queue": [part for tick, parts in sorted(timing.agenda.items()) for part in parts if timing.due[part] == tick],
        "strong": field.strong,
        "energised": field.energised,
        "level": field.level,
        "locked": field.locked,
        "kinds": [numbers[kind] for store in stores for kind in store.kinds],
        "counts": [count for store in stores for count in store.counts],
        "fire": [furnace.fire for furnace in world.furnaces.values()],
        "progress": [furnace.progress for furnace in world.furnaces.values()],
        "delivered": [count for tally in trial.tallies.values() for count in tally.delivered],
        "first arrival": _numbers(tally.first_arrival for tally in trial.tallies.values()),
        "last arrival": _numbers(tally.last_arrival for tally in trial.tallies.values()),
        "overheated": [overheated.get(part, p.NOTHING) for part in range(len(field.out))],
    }


def _numbers(values: Any) -> list[int]:
    return [p.NOTHING if value is None else value for value in values]


def builds(group: int, groups: int, number: int, of: str) -> Iterator[Build]:
    """Name, chance, layout and case of every random build of a group; half of the cases get an order of their own."""
    for seed in range(group, number, groups):
        rng = random.Random(f"{of} {seed}")
        layout, case = random_run(rng)
        if rng.random() < 0.5:
            case["order"] = rng.sample([part.at for part in layout.machines], len(layout.machines))
        yield f"{of} {seed}", rng, layout, case


def loads_by_tick(rng: random.Random, layout: Layout, case: dict[str, Any], ticks: int) -> dict[int, list[Load]]:
    """The case's arrivals, and now and then other items put into any container in the middle of the run.

    From tick 1 on there is one load a tick: ``Run.put`` lets each be noticed by itself, ``World.put`` all together.
    """
    sources = {stream.name: (stream.source, stream.item) for stream in layout.streams}
    arrivals = arrivals_for(layout, case["loads"], case["every"])
    found: dict[int, list[Load]] = {}
    for tick, due in groupby(arrivals, key=lambda arrival: arrival.tick):
        loads = [(*sources[arrival.stream], arrival.count) for arrival in due]
        found[tick] = loads if tick == 0 else [rng.choice(loads)]
    if layout.containers and rng.random() < 0.6:
        for tick in rng.sample(range(1, ticks), 4):
            kinds = [*layout.items, *(stream.item for stream in layout.streams), STRANGE]
            found[tick] = [(rng.choice(layout.containers).at, rng.choice(kinds), rng.choice([1, 1, 2, 5, 20]))]
    return found


# -- tick by tick ------------------------------------------------------------------------------------------------------

LEAST_SHARES = {
    "item moved": 0.6,
    "load in the middle": 0.5,
    "load refused": 0.05,
    "signal changed": 0.4,
    "node locked": 0.2,
    "relay latched": 0.1,
    "short pulse stretched": 0.01,
    "inverter overheated": 0.05,
    "furnace lit": 0.05,
    "item fired": 0.005,
    "handover 7": 0.1,
    "handover 8": 0.4,
    "order of its own": 0.5,
}
"""Least shares of the builds of a group in which each of these must have happened, or the group proves little."""


@pytest.mark.parametrize("group", range(GROUPS))
def test_every_tick_of_random_builds_is_the_same(group: int) -> None:
    shares: Counter[str] = Counter()
    number = 0
    for name, rng, layout, case in builds(group, GROUPS, BUILDS, "build"):
        both, ticks = Both(layout, case["order"]), rng.choice(TICKS)
        loads = loads_by_tick(rng, layout, case, ticks)
        try:
            played(both, loads, ticks)
        except AssertionError as error:
            raise AssertionError(f"{name}: {error}") from error
        both.seen[f"handover {both.world.rules.handover}"] += 1
        both.seen["order of its own"] += case["order"] is not None
        shares.update(what for what, count in both.seen.items() if count)
        number += 1
    for what, least in LEAST_SHARES.items():
        assert shares[what] >= least * number, f"{what}: in {shares[what]} of {number} builds"


def played(both: Both, loads: dict[int, list[Load]], ticks: int) -> None:
    """Both for so many ticks, compared after each; at the end also what the kernel's run tells of itself."""
    for load in loads.get(0, ()):
        both.put(load)
    both.start()
    both.compare()
    for tick in range(1, ticks + 1):
        both.advance()
        both.compare()
        for load in loads.get(tick, ()):
            both.put(load)
            both.compare()
            both.seen["load in the middle"] += 1
    told_alike(both.run, both.trial)


def told_alike(run: Run, trial: Trial) -> None:
    """What the kernel's run tells by cells is what the trial's result tells."""
    result, timing = trial.result(), trial.world.timing
    assert run.contents() == result.contents
    assert run.signals() == result.signals
    assert tuple(run.locked()) == result.locked
    assert run.delivered() == [stream.delivered for stream in result.streams]
    parts = trial.world.field.wiring.parts
    assert run.overheated() == {parts[part].at: tick for part, tick in timing.overheated}


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
@pytest.mark.parametrize("handover", [7, 8])
def test_every_tick_of_the_brickyard_layouts_is_the_same(path: Path, handover: int) -> None:
    layout = load_layout(path)
    both = Both(replace(layout, rules={**layout.rules, "handover": handover}))
    arrivals = arrivals_for(layout)
    loads: dict[int, list[Load]] = {0: [(layout.streams[0].source, layout.streams[0].item, arrivals[0].count)]}
    loads[300] = [(layout.streams[0].source, layout.streams[0].item, 5)]
    played(both, loads, 450)
    assert both.seen["item moved"] > 0 or any(both.world.field.locked)


# -- runs to rest ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("group", range(FEW_GROUPS))
def test_runs_to_rest_of_random_builds_are_the_same(group: int) -> None:
    """Load after load, each put in where the kernel stands when it has come to rest from the one before."""
    ended: Counter[str] = Counter()
    for name, rng, layout, case in builds(group, FEW_GROUPS, BUILDS // 10, "rest"):
        ended[rested(name, rng, layout, case)] += 1
    assert min(ended["at rest"], ended["stopped"]) > 0, ended


def rested(name: str, rng: random.Random, layout: Layout, case: dict[str, Any]) -> str:
    """Three loads to rest; how the last one ended.

    The simulator sees that nothing can happen any more before the kernel does, which waits for cooldowns, fires and
    changes that come to nothing; it is taken to the tick in which the kernel stands.
    """
    trial, run = Trial(layout, order=case["order"]), Run(Tables(layout), case["order"])
    for _ in range(3):
        for stream in layout.streams[:1]:
            done = run.put(stream.source, stream.item, rng.randint(1, 9))
            trial.world.put([(stream.source, stream.item, done)])
        at_rest = run.run_to(run.tick + REST_LIMIT)
        result = trial.run((), ticks=run.tick - trial.world.tick)
        assert kernel_state(run) == world_state(trial, run.tables), name
        assert not at_rest or result.at_rest, name
        told_alike(run, trial)
        if not at_rest:
            return "stopped"
    return "at rest"


@pytest.mark.parametrize("group", range(FEW_GROUPS))
def test_runs_to_rest_end_as_trials_do(group: int) -> None:
    """A trial that stops by itself or at the limit: the tick of the last change, what was delivered, contents."""
    for name, _, layout, case in builds(group, FEW_GROUPS, BUILDS // 10, "trial"):
        trial, run = Trial(layout, order=case["order"]), Run(Tables(layout), case["order"])
        arrivals = arrivals_for(layout, case["loads"])
        put = [run.put(*into(layout, arrival), arrival.count) for arrival in arrivals]
        if put != [arrival.count for arrival in arrivals]:
            with pytest.raises(InputError, match="has room for"):
                trial.run(arrivals, limit=REST_LIMIT)
            continue
        ends_alike(name, run, trial, arrivals)


def ends_alike(name: str, run: Run, trial: Trial, arrivals: Sequence[Arrival]) -> None:
    """The kernel's run has its load, the trial gets it here."""
    result, at_rest = trial.run(arrivals, limit=REST_LIMIT), run.run_to(REST_LIMIT)
    assert result.at_rest or not at_rest, name
    assert at_rest or result.stopped or trial.world.tick >= REST_LIMIT - WAITS, name
    assert run.last_change == trial.world.last_change, name
    assert run.contents() == result.contents, name
    assert run.delivered() == [stream.delivered for stream in result.streams], name


def into(layout: Layout, arrival: Arrival) -> tuple[Cell, str]:
    return next((stream.source, stream.item) for stream in layout.streams if stream.name == arrival.stream)


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
@pytest.mark.parametrize("handover", [7, 8])
def test_brickyard_layouts_come_to_rest_as_trials_do(path: Path, handover: int) -> None:
    layout = load_layout(path)
    layout = replace(layout, rules={**layout.rules, "handover": handover})
    rng = random.Random(path.stem)
    for _ in range(4):
        order = rng.sample([part.at for part in layout.machines], len(layout.machines))
        trial, run = Trial(layout, order=order), Run(Tables(layout), order)
        arrivals = arrivals_for(layout)
        assert [run.put(*into(layout, arrival), arrival.count) for arrival in arrivals] == [a.count for a in arrivals]
        ends_alike(path.stem, run, trial, arrivals)


# -- many orders in one call -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("group", range(FEW_GROUPS))
def test_many_orders_in_one_call(group: int) -> None:
    """One memory, one state and one scratch for all orders of a build: each result is that of a trial of its own."""
    delivered = apart = 0
    for name, rng, layout, _ in builds(group, FEW_GROUPS, BUILDS // 20, "orders"):
        if not layout.streams:
            continue
        tables, stream = Tables(layout), layout.streams[0]
        orders = [rng.sample([part.at for part in layout.machines], len(layout.machines)) for _ in range(ORDERS)]
        load = Run(tables).put(stream.source, stream.item, rng.randint(1, 12))
        rows = rows_of(tables, orders, [[load]], 1)
        for order, row in zip(orders, rows, strict=True):
            trial = Trial(layout, order=order)
            result = trial.run([Arrival(0, stream.name, load)], limit=REST_LIMIT)
            entered = [count for stream in result.streams for count in stream.delivered]
            assert row[1:] == [*told(trial), *entered], name
            assert result.at_rest or not row[0], name
            assert row[0] or not result.at_rest or trial.world.tick >= REST_LIMIT - WAITS, name
            delivered += any(entered)
        apart += len({tuple(row) for row in rows}) > 1
    assert delivered > 0
    assert apart > 0, "the update order made no difference anywhere"


@pytest.mark.parametrize("group", range(FEW_GROUPS))
def test_loads_one_after_another_in_one_call(group: int) -> None:
    """Each load from a rest in which every cooldown is over, as a run of the kernel's and a trial loaded by hand."""
    loaded_again = 0
    for name, rng, layout, case in builds(group, FEW_GROUPS, BUILDS // 20, "drift"):
        loads = [[rng.randint(1, 5) for _ in layout.streams] for _ in range(3)]
        tables, order = Tables(layout), case["order"] or [part.at for part in layout.machines]
        others = rng.sample(order, len(order))
        rows = rows_of(tables, [order, others], loads)
        for cells, told_of in ((order, rows[: len(loads)]), (others, rows[len(loads) :])):
            loaded_again += rested_between(name, Run(tables, cells), Trial(layout, order=cells), loads, told_of)
    assert loaded_again > 0


def rested_between(
    name: str, run: Run, trial: Trial, loads: Sequence[Sequence[int]], rows: Sequence[Sequence[int]]
) -> int:
    """Each load by hand against its row; after one that did not come to rest all rows are the same. Times at rest."""
    for number, (load, row) in enumerate(zip(loads, rows, strict=True)):
        rested = loaded(run, trial, load)
        assert row[0] == rested, name
        if rested != batch.NO_ROOM:
            entered = [count for tally in trial.tallies.values() for count in tally.delivered]
            assert row[1:] == [*told(trial), *entered], name
        if rested != AT_REST:
            assert all(later == row for later in rows[number:]), name
            return number
    return len(loads)


def loaded(run: Run, trial: Trial, load: Sequence[int]) -> int:
    """A load of each stream put into both and run to rest, cooldowns too; what ``batch.run_loads`` tells of it."""
    for stream, count in zip(trial.layout.streams, load, strict=True):
        if run.put(stream.source, stream.item, count) < count:
            return batch.NO_ROOM
    trial.world.put([(s.source, s.item, count) for s, count in zip(trial.layout.streams, load, strict=True)])
    rested = run.run_to(run.tick + REST_LIMIT)
    trial.run((), ticks=run.tick - trial.world.tick)
    while rested and any(node.ready_at > trial.world.tick for node in trial.world.nodes.values()):
        run.advance()
        trial.world.advance()
    assert kernel_state(run) == world_state(trial, run.tables)
    return AT_REST if rested else STOPPED


@pytest.mark.parametrize("group", range(FEW_GROUPS))
def test_patterns_of_arrivals_in_one_call(group: int) -> None:
    """Items of all streams in ticks of their own, some long after rest, then to rest: as a trial of each pattern."""
    delivered = 0
    for name, rng, layout, case in builds(group, FEW_GROUPS, BUILDS // 20, "arrivals"):
        if not layout.streams:
            continue
        patterns = [random_pattern(rng, layout) for _ in range(3)]
        rows = rows_of_patterns(Tables(layout), case["order"], patterns)
        for pattern, row in zip(patterns, rows, strict=True):
            arrivals = [Arrival(tick, layout.streams[k].name, count) for tick, k, count in pattern]
            trial = Trial(layout, order=case["order"])
            if row[0] == batch.NO_ROOM:
                with pytest.raises(InputError, match="has room for"):
                    trial.run(arrivals, limit=pattern[-1][0] + REST_LIMIT)
                continue
            trial.run(arrivals, limit=pattern[-1][0] + REST_LIMIT)
            entered = [count for tally in trial.tallies.values() for count in tally.delivered]
            assert row[1:] == [*told(trial), *entered], name
            delivered += any(entered)
    assert delivered > 3


def random_pattern(rng: random.Random, layout: Layout) -> list[tuple[int, int, int]]:
    """Tick, stream number, items."""
    ticks = sorted(rng.sample(range(200), rng.randint(1, 8)))
    return [(tick, rng.randrange(len(layout.streams)), rng.randint(1, 3)) for tick in ticks]


def rows_of_patterns(
    tables: Tables, order: Sequence[Cell] | None, patterns: Sequence[Sequence[tuple[int, int, int]]]
) -> list[list[int]]:
    """The results of ``batch.each_arrivals``."""
    results = np.zeros((len(patterns), batch.FIRST_OUTPUT + len(tables.outputs)), np.int32)
    firsts = np.cumsum([0, *map(len, patterns)]).astype(np.int32)
    batch.each_arrivals(
        tables.w,
        tables.start,
        tables.start.copy(),
        tables.scratch(),
        new_memory(tables.w),
        tables.order(order),
        sources_of(tables),
        np.array([row for pattern in patterns for row in pattern], np.int32),
        firsts,
        REST_LIMIT,
        results,
    )
    rows: list[list[int]] = results.tolist()
    return rows


GAP_ROUNDS = 4


@pytest.mark.parametrize("states", [4, 1 << 12])
@pytest.mark.parametrize("group", range(FEW_GROUPS))
def test_one_gap_in_one_call(group: int, states: int) -> None:
    """An item each so many ticks, and what it comes to if after two, four ... no more come: a trial of each.

    With a memory of four signal states as well: once it is emptied, there is no result rather than a wrong one.
    """
    delivered, emptied = 0, 0
    for name, rng, layout, case in builds(group, FEW_GROUPS, BUILDS // 20, "gap"):
        gap = rng.randint(1, 30)
        if len(layout.streams) != 1:
            continue
        rows = rows_of_gap(Tables(layout), case["order"], gap, states)
        emptied += not rows
        for round_, row in enumerate(rows, 1):
            trial = Trial(layout, order=case["order"])
            arrivals = arrivals_for(layout, {layout.streams[0].name: 2 * round_}, gap)
            try:
                trial.run(arrivals, limit=arrivals[-1].tick + REST_LIMIT)
            except InputError:
                break  # no room; what a gap of that length comes to is no question then
            entered = [count for tally in trial.tallies.values() for count in tally.delivered]
            assert row[1:] == [*told(trial), *entered], f"{name}, gap {gap}, round {round_}"
            delivered += any(entered)
    assert delivered > 3
    assert (emptied > 0) == (states == 4)


def rows_of_gap(tables: Tables, order: Sequence[Cell] | None, gap: int, states: int) -> list[list[int]]:
    """The results of ``batch.one_gap``, two items a round; none where the memory was emptied on the way."""
    results = np.zeros((GAP_ROUNDS, batch.FIRST_OUTPUT + len(tables.outputs)), np.int32)
    ended = batch.one_gap(
        tables.w,
        tables.start,
        tables.start.copy(),
        tables.start.copy(),
        tables.scratch(),
        new_memory(tables.w, states=states),
        tables.order(order),
        sources_of(tables),
        gap,
        GAP_ROUNDS,
        2,
        REST_LIMIT,
        results,
    )
    rows: list[list[int]] = results.tolist()
    return [] if ended == batch.EMPTIED else rows


def told(trial: Trial) -> list[int]:
    """Tick of the last change, items in nodes, whether an inverter overheated, as the kernel's results tell them."""
    held = sum(node.store.items for node in trial.world.nodes.values())
    return [trial.world.last_change, held, int(bool(trial.world.timing.overheated))]


def sources_of(tables: Tables, streams: int | None = None) -> np.ndarray:
    """Source and item kind of the first streams, without the node below, which these functions do not ask for."""
    found = [(tables.store_no[s.source], tables.kind_no[s.item], p.NOTHING) for s in tables.layout.streams[:streams]]
    return np.array(found, np.int32).reshape(-1, 3)


def rows_of(
    tables: Tables, orders: Sequence[Sequence[Cell]], loads: Sequence[Sequence[int]], streams: int | None = None
) -> list[list[int]]:
    """The results of ``batch.run_orders`` for the first streams: order by order, a row after each load."""
    results = np.zeros((len(orders) * len(loads), batch.FIRST_OUTPUT + len(tables.outputs)), np.int32)
    batch.run_orders(
        tables.w,
        tables.start,
        tables.start.copy(),
        tables.scratch(),
        new_memory(tables.w),
        np.array([tables.order(order) for order in orders]),
        sources_of(tables, streams),
        np.array(loads, np.int32).reshape(len(loads), -1),
        REST_LIMIT,
        results,
    )
    rows: list[list[int]] = results.tolist()
    return rows


# -- sinks -------------------------------------------------------------------------------------------------------------


class RefusingWorld(World):
    """A world that notes whether one of ``ends`` has ever refused an item."""

    ends: frozenset[Cell] = frozenset()
    refused = False

    def _enter(self, cell: Cell, kind: str, moving: Direction) -> bool:
        entered = super()._enter(cell, kind, moving)
        self.refused |= not entered and cell in self.ends
        return entered


@pytest.mark.parametrize("group", range(FEW_GROUPS))
def test_sinks_count_what_ends_count_until_one_refuses_something(group: int) -> None:
    """Ends that keep nothing: as long as the true ones take everything, the rest of the build sees no difference."""
    delivered = refused = compared = 0
    for name, rng, layout, case in builds(group, FEW_GROUPS, BUILDS // 4, "sinks"):
        ends = ends_of(layout)
        if not ends or not layout.streams:
            continue
        counts, refuses = compared_with_sinks(name, streams_into(layout, ends, rng), case, ends)
        compared += 1
        delivered += any(counts)
        refused += refuses
    assert 0 < refused < compared
    assert delivered > 3


def streams_into(layout: Layout, ends: frozenset[Cell], rng: random.Random) -> Layout:
    """A stream of each kind from the source of the build's own stream to all ends."""
    source, outputs = layout.streams[0].source, tuple(sorted(ends))
    kinds = rng.sample(sorted({*layout.items, STRANGE}), len(layout.items) + 1)
    return replace(layout, streams=tuple(Stream(kind, kind, source, outputs) for kind in kinds))


def ends_of(layout: Layout) -> frozenset[Cell]:
    """Bins and furnaces from which nothing leads on: no node pulls from them, no gauge reads them, empty at first."""
    read = Tables(layout).wiring.gauges_of_container
    pulled = {(x, y, z + 1) for x, y, z in (part.at for part in layout.containers if isinstance(part, Node))}
    return frozenset(
        part.at
        for part in layout.containers
        if isinstance(part, (Bin, Furnace)) and part.at not in pulled and part.at not in read and not any(part.holds)
    )


def compared_with_sinks(
    name: str, layout: Layout, case: dict[str, Any], ends: frozenset[Cell]
) -> tuple[list[int], bool]:
    """What was delivered, and whether the outputs came to refuse something, which ends the comparison."""
    counts = Counter[tuple[Cell, str]]()
    world = RefusingWorld(layout, order=case["order"], entered=lambda _, cell, kind: counts.update([(cell, kind)]))
    world.ends = ends
    run = Run(Tables(layout, sinks=ends), case["order"])
    for stream in layout.streams[:2]:
        done = run.put(stream.source, stream.item, 6)
        world.put([(stream.source, stream.item, done)])
    delivered: list[int] = []
    for _ in range(SINK_TICKS):
        world.advance()
        run.advance()
        if world.refused:
            return delivered, True
        delivered = [counts[output, stream.item] for stream in layout.streams for output in stream.outputs]
        assert [count for counts in run.delivered() for count in counts] == delivered, f"{name}, tick {world.tick}"
        contents = run.contents()
        assert all(contents[c] == s.slots() for c, s in world.stores.items() if c not in ends), f"{name}, {world.tick}"
        assert not any(slot for cell in ends for slot in contents[cell]), name
    return delivered, False
