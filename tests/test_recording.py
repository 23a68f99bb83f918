"""A trial written down (``sim.world.recording``) against the trial itself, its wave file, and a count of all items.

Random builds are the oracle's (``oracle.random_builds``): bins, nodes, furnaces at work, live signals, loads that come
late, update orders. The wave file is read back by a third-party reader (vcdvcd, from PyPI).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

import pytest

from commands import LAYOUTS
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, step
from sim.world.layout import Layout
from sim.world.parts import Container, Node, Slot
from sim.world.recording import Burning, Firing, Move, Recording, Replay, contents_after, record, value_at
from sim.world.trial import Arrival, TrialResult, arrivals_for, run_trial
from sim.world.waves import identifier
from test_waves import SCOPES, TICK_UNITS, read_back, written
from worlds import drawn, random_run

BUILDS = 60
TICKS = 400
ROW = LAYOUTS / "burst-row-of-three.plan"


def runs() -> Iterator[tuple[str, Layout, list[Arrival], Sequence[Cell] | None]]:
    """Layouts of ours, at once and one by one, and random builds."""
    for path in sorted(LAYOUTS.glob("*.plan")):
        layout = load_layout(path)
        yield path.stem, layout, arrivals_for(layout), None
        yield f"{path.stem}, every 10", layout, arrivals_for(layout, {s.name: 9 for s in layout.streams}, 10), None
    for seed in range(BUILDS):
        layout, case = random_run(random.Random(f"recording {seed}"))
        yield f"random {seed}", layout, arrivals_for(layout, case["loads"], case["every"]), case["order"]


RUNS = list(runs())
NAMES = [name for name, *_ in RUNS]


@pytest.fixture(params=RUNS, ids=NAMES, scope="module")
def both(request: pytest.FixtureRequest) -> tuple[Recording, TrialResult]:
    """A recording, and the result of the trial that is not recorded."""
    _, layout, arrivals, order = request.param
    recording = record(layout, arrivals=arrivals, order=order, ticks=TICKS)
    return recording, run_trial(layout, arrivals, order=order, ticks=TICKS)


def test_recording_gives_the_trial_s_own_result(both: tuple[Recording, TrialResult]) -> None:
    recording, plain = both
    assert recording.result == plain
    assert recording.last_tick == TICKS


def test_moves_and_firings_replayed_give_the_contents(both: tuple[Recording, TrialResult]) -> None:
    recording, plain = both
    assert contents_after(recording, recording.last_tick) == plain.contents


def test_events_stand_in_order_of_time(both: tuple[Recording, TrialResult]) -> None:
    recording, _ = both
    ticks = [event.tick for event in recording.events]
    assert ticks == sorted(ticks)
    assert sorted(recording.events, key=lambda event: event.tick) == list(recording.events)
    parted = len(recording.moves) + len(recording.fired) + len(recording.burnt)
    assert parted == len(recording.events)


def test_every_move_is_one_that_a_node_can_make(both: tuple[Recording, TrialResult]) -> None:
    """Into a node from the container above it, or out of one through its outlet (rulebook section 3)."""
    recording, _ = both
    parts = recording.layout.by_cell
    for move in recording.moves:
        assert isinstance(parts[move.target], Container)
        if move.source is None:
            assert move.target in {stream.source for stream in recording.layout.streams}
            continue
        pulled = isinstance(parts[move.target], Node) and move.source == step(move.target, "U")
        giver = parts[move.source]
        assert pulled or (isinstance(giver, Node) and move.target == step(giver.at, giver.outlet)), move


def test_nothing_is_lost_or_made(both: tuple[Recording, TrialResult]) -> None:
    """By kind: what was there, and came in, is there, or was fired or burnt; firing alone makes anything."""
    recording, plain = both
    left = count(recording.start)
    left.update(move.kind for move in recording.moves if move.source is None)
    for event in recording.events:
        match event:
            case Firing(_, _, kind, product):
                left.subtract([kind])
                left.update([product])
            case Burning(_, _, fuel):
                left.subtract([fuel])
    assert +left == +count(plain.contents)


def test_deliveries_end_at_what_was_delivered(both: tuple[Recording, TrialResult]) -> None:
    recording, plain = both
    for stream in plain.streams:
        steps = recording.delivered[stream.name]
        assert tuple(of[-1][1] for of in steps) == stream.delivered
        ticks = [tick for of in steps for tick, _ in of[1:]]
        assert min(ticks, default=None) == stream.first_arrival
        assert max(ticks, default=None) == stream.last_arrival


def test_deliveries_are_the_moves_into_outputs(both: tuple[Recording, TrialResult]) -> None:
    recording, _ = both
    for stream in recording.layout.streams:
        for output, steps in zip(stream.outputs, recording.delivered[stream.name], strict=True):
            into = [m.tick for m in recording.moves if m.source and (m.kind, m.target) == (stream.item, output)]
            assert steps == ((0, 0), *((tick, sum(t <= tick for t in into)) for tick in sorted(set(into))))


def test_signals_locks_and_deliveries_are_those_of_the_wave_file() -> None:
    compared = 0
    for _, layout, arrivals, order in RUNS:
        recording = record(layout, arrivals=arrivals, order=order, ticks=TICKS)
        found, _ = read_back(written(layout, arrivals, order, TICKS))
        waves = {
            f"{SCOPES[type(part)]}.{identifier(part.kind, part.at)}": recording.signals[part.at]
            for part in layout.parts
            if type(part) in SCOPES
        }
        waves |= {f"locked.{identifier('locked', cell)}": steps for cell, steps in recording.locks.items()}
        for number, stream in enumerate(layout.streams):
            for cell, steps in zip(stream.outputs, recording.delivered[stream.name], strict=True):
                waves[f"delivered.{identifier(f'stream{number}_{stream.name}_to', cell)}"] = steps
        assert {name for name in found if not name.startswith("items.")} == set(waves)
        for name, steps in waves.items():
            assert found[name] == [(tick * TICK_UNITS, value) for tick, value in steps], name
            compared += len(steps) > 1
    assert compared > 400


def test_steps_begin_at_tick_0_and_tell_changes_alone(both: tuple[Recording, TrialResult]) -> None:
    recording, plain = both
    deliveries = [steps for outputs in recording.delivered.values() for steps in outputs]
    for steps in (*recording.signals.values(), *recording.locks.values(), *deliveries):
        assert steps[0][0] == 0
        assert all(a[0] < b[0] and a[1] != b[1] for a, b in pairwise(steps))
    assert {cell: steps[-1][1] for cell, steps in recording.signals.items()} == plain.signals
    assert tuple(cell for cell, steps in recording.locks.items() if steps[-1][1]) == plain.locked


def test_contents_on_the_way_are_those_of_a_shorter_trial() -> None:
    for _, layout, arrivals, order in RUNS[:: len(RUNS) // 12]:
        replay = Replay(record(layout, arrivals=arrivals, order=order, ticks=60))
        late = {arrival.tick for arrival in arrivals if arrival.tick > 0}
        for tick in range(60):
            if tick in late:  # a trial of so many ticks leaves out what comes after its last one
                continue
            replay.to(tick)
            assert replay.contents() == run_trial(layout, arrivals, order=order, ticks=tick).contents


def test_one_row_by_hand() -> None:
    """A row of three with three pieces of clay, worked out by hand: a move each 8 ticks; T3 holds the first at the
    end of tick 25, its gauge is 2 ticks later, the inverter 2 more: all three B nodes open in tick 29."""
    recording = record(load_layout(ROW), loads={"feed": 3})
    source, t, b, kilns = (0, 1, 3), [(x, 1, 2) for x in range(4)], [(x, 1, 1) for x in range(4)], (1, 2, 3)
    taken = [Move(tick, "clay", source, t[0]) for tick in (1, 9, 17)]
    along = [Move(tick, "clay", t[i], t[i + 1]) for tick, most in ((9, 1), (17, 2), (25, 3)) for i in range(most)]
    down = [Move(29, "clay", t[i], b[i]) for i in kilns] + [Move(37, "clay", b[i], (i, 1, 0)) for i in kilns]
    assert Counter(recording.moves) == Counter(taken + along + down)
    assert recording.signals[(4, 1, 2)] == ((0, 0), (27, 1), (31, 0))
    assert recording.locks[b[1]] == ((0, 0), (7, 1), (29, 0))
    assert recording.delivered == {"feed": (((0, 0), (37, 1)),) * 3}
    assert recording.start[source][0] == ("clay", 3)
    assert (recording.last_tick, recording.result.tick) == (37, 37)


def test_value_at() -> None:
    steps = ((0, 3), (5, 0), (9, 2))
    assert [value_at(steps, tick) for tick in (0, 4, 5, 8, 9, 1000)] == [3, 3, 0, 0, 2, 2]


def test_firing_takes_fuel_first_and_clay_after_200_ticks() -> None:
    """Rulebook section 3, "Firing": fuel in tick 1, a brick each 200 ticks, a second piece of fuel when it is out."""
    layout = drawn("F . . / B . .", "holds 0,0,0 clay 9 charcoal 2")
    recording = record(layout)
    kiln = (0, 0, 0)
    assert recording.fired == tuple(Firing(200 * i, kiln, "clay", "brick") for i in range(1, 10))
    assert recording.burnt == (Burning(1, kiln, "charcoal"), Burning(1601, kiln, "charcoal"))
    assert contents_after(recording, 1599)[kiln] == (("clay", 2), ("charcoal", 1), ("brick", 7))


def test_a_brick_fired_and_taken_in_one_tick() -> None:
    """The kiln's turn comes before the node's: the order of events within the tick is the true one."""
    layout = drawn("nE B / F .", "holds 0,0,1 clay 1 charcoal 1\norder 0,0,1 0,0,0 1,0,0")
    recording = record(layout)
    assert [type(event) for event in recording.events if event.tick == 200] == [Firing, Move]
    assert contents_after(recording, recording.last_tick) == recording.result.contents


def test_loads_that_come_later_are_moves_from_nowhere() -> None:
    recording = record(load_layout(ROW), loads={"feed": 3}, every=10)
    assert [move for move in recording.moves if move.source is None] == [
        Move(tick, "clay", None, (0, 1, 3)) for tick in (10, 20)
    ]
    assert recording.start[(0, 1, 3)][0] == ("clay", 1)


def test_limits_end_a_recording_early() -> None:
    layout = load_layout(ROW)
    short = record(layout, limit=100)
    assert (short.result.stopped, short.last_tick) == (True, 100)
    full = record(layout, entries_most=200)
    entries = len(full.events) + sum(map(len, (*full.signals.values(), *full.locks.values(), *full.delivered["feed"])))
    assert full.result.stopped
    assert 200 < entries < 250
    assert contents_after(full, full.last_tick) == full.result.contents
    assert full.result.contents == run_trial(layout, arrivals_for(layout), ticks=full.last_tick).contents


def test_arrivals_go_without_loads() -> None:
    layout = load_layout(ROW)
    with pytest.raises(ValueError, match="loads and every"):
        record(layout, arrivals=[], loads={"feed": 3})


def test_a_replay_does_not_go_back() -> None:
    replay = Replay(record(load_layout(ROW), loads={"feed": 3}))
    replay.to(9)
    with pytest.raises(ValueError, match="tick 9"):
        replay.to(8)


def count(contents: Mapping[Cell, Sequence[Slot | None]]) -> Counter[str]:
    """Items by kind in all containers."""
    total: Counter[str] = Counter()
    for slots in contents.values():
        for kind, number in filter(None, slots):
            total[kind] += number
    return total
