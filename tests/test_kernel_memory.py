"""The kernel's memory of signal states: what it forgets, cannot tell or has no room for must make no difference."""

from __future__ import annotations

import random

import pytest

from sim.errors import InputError
from sim.world.kernel import memory
from sim.world.kernel import places as p
from sim.world.kernel.memory import new_memory
from sim.world.kernel.run import Run
from sim.world.kernel.tables import COMMON_LIMIT_MOST, Tables
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.trial import Trial
from test_kernel_agreement import builds, kernel_state, world_state

TICKS = 60


def emptied(run: Run) -> int:
    """How many times the memory of a run was emptied."""
    return int(run.m.counts[memory.FLUSHES])


def played_together(layout: Layout, runs: list[Run], load: tuple[tuple[int, int, int], str, int], ticks: int) -> Trial:
    """The simulator and some runs of the kernel, compared after each tick."""
    trial = Trial(layout)
    trial.world.put([load])
    trial.world.start()
    for run in runs:
        assert run.put(*load) == load[2]
    for _ in range(ticks):
        changed = trial.world.advance()
        expected = None
        for run in runs:
            assert run.advance() == changed, trial.world.tick
            expected = expected or world_state(trial, run.tables)
            assert kernel_state(run) == expected
    return trial


# -- a memory that is too small ----------------------------------------------------------------------------------------


def test_a_tiny_memory_that_is_emptied_again_and_again_gives_the_same_run() -> None:
    """One signal state, two, four: all are emptied in the middle of ticks, the larger memory never is."""
    times = {1: 0, 2: 0, 4: 0}
    for name, _, layout, case in builds(0, 1, 120, "tiny"):
        trial, tables = Trial(layout, order=case["order"]), Tables(layout)
        runs = {states: Run(tables, case["order"]) for states in times}
        for states, run in runs.items():
            run.m = new_memory(tables.w, states=states)
        whole = Run(tables, case["order"])
        for stream in layout.streams[:1]:
            done = whole.put(stream.source, stream.item, 6)
            trial.world.put([(stream.source, stream.item, done)])
            for run in runs.values():
                run.put(stream.source, stream.item, done)
        for _ in range(TICKS):
            trial.world.advance()
            expected = world_state(trial, tables)
            for run in (whole, *runs.values()):
                run.advance()
                assert kernel_state(run) == expected, f"{name}, tick {trial.world.tick}"
        assert emptied(whole) == 0
        for states, run in runs.items():
            times[states] += emptied(run) > 1
    assert min(times.values()) > 5, times


def test_a_memory_that_has_no_room_for_more_readings_is_emptied() -> None:
    """Four bins that fill up, with a reading for every number of items."""
    parts: list[Part] = []
    for z in range(4):
        parts += [Bin((0, 0, z)), Gauge((1, 0, z), "E")]
    layout = Layout("gauges", (2, 1, 4), {"clay": ItemKind()}, tuple(parts), (), {"reach": 5000})
    tables, run, trial = Tables(layout), Run(Tables(layout)), Trial(layout)
    trial.world.start()
    run.start()
    rng = random.Random(1)
    for _ in range(memory.VECTORS_MOST + 400):
        load = ((0, 0, rng.randrange(4)), "clay", 1)
        trial.world.put([load])
        run.put(*load)
        if not rng.randrange(8):
            trial.world.advance()
            run.advance()
    assert emptied(run) > 0
    assert kernel_state(run) == world_state(trial, tables)


# -- more inverters than there are bits --------------------------------------------------------------------------------


def clocks(number: int, still: int = 0) -> Layout:
    """So many inverters that switch off in one tick again and again, and ``still`` more that stay lit; a node.

    Every clock: an inverter beside a support, a line beside the inverter, up a step, and back onto the support.
    """
    parts: list[Part] = [Bin((0, 0, 2)), Node((0, 0, 1), "D"), Bin((0, 0, 0))]
    for i in range(number):
        y = 3 * i + 2
        parts += [Support((0, y, 0)), Inverter((1, y, 0), "W"), Line((1, y + 1, 0)), Support((0, y + 1, 0))]
        parts += [Line((0, y + 1, 1)), Line((0, y, 1))]
    for i in range(still):
        parts += [Support((0, 3 * number + 2 * i + 2, 0)), Inverter((1, 3 * number + 2 * i + 2, 0), "W")]
    stream = Stream("feed", "clay", (0, 0, 2), ((0, 0, 0),))
    return Layout("clocks", (2, 3 * number + 2 * still + 2, 3), {"clay": ItemKind()}, tuple(parts), (stream,), {})


@pytest.mark.parametrize("number", [memory.MASK_BITS - 1, memory.MASK_BITS, memory.MASK_BITS + 1, 80])
def test_as_many_inverters_as_can_be_told_apart_and_more(number: int) -> None:
    layout = clocks(number)
    run = Run(Tables(layout))
    trial = played_together(layout, [run], ((0, 0, 2), "clay", 20), 80)
    assert len(run.overheated()) == number, "every clock overheats, or this says little"
    assert {tick for _, tick in trial.world.timing.overheated} == set(run.overheated().values())
    assert run.delivered()[0][0] > 0


@pytest.mark.parametrize("still", [0, 61, 62, 63, 64, 70, 140])
def test_inverters_that_stay_lit_are_not_taken_for_those_that_switch(still: int) -> None:
    """A kept transition tells of a few that switch off among more than there are bits."""
    layout = clocks(3, still)
    run = Run(Tables(layout))
    trial = played_together(layout, [run], ((0, 0, 2), "clay", 20), 80)
    assert len(run.overheated()) == len(trial.world.timing.overheated) == 3


def test_a_state_that_is_met_again_still_counts_what_switched_off() -> None:
    """Kept transitions tell which inverters switched off: a memory filled by one run serves the next one."""
    layout = clocks(3)
    tables = Tables(layout)
    first, second = Run(tables), Run(tables)
    for _ in range(80):
        first.advance()
    known = int(first.m.counts[memory.TRANSITIONS])
    second.m = first.m
    for _ in range(80):
        second.advance()
    assert int(second.m.counts[memory.TRANSITIONS]) == known, "the second run met something new"
    assert len(second.overheated()) == 3
    assert first.overheated() == second.overheated()
    assert second.s[p.LAST_CHANGE] == first.s[p.LAST_CHANGE]


# -- stack limits ------------------------------------------------------------------------------------------------------


def with_limits(*limits: int) -> Layout:
    items = {f"kind{i}": ItemKind(stack=limit) for i, limit in enumerate(limits)}
    parts = (Bin((0, 0, 1)), Node((0, 0, 0), "E"), Gauge((1, 0, 1), "E"), Support((1, 0, 0)), Relay((2, 0, 1), "E"))
    return Layout("limits", (4, 1, 2), items, parts, (Stream("feed", "kind0", (0, 0, 1), ((0, 0, 0),)),), {})


def test_stack_limits_without_a_small_common_multiple_are_refused_in_one_line() -> None:
    layout = with_limits(9_973, 9_967)
    with pytest.raises(InputError, match="no common multiple") as refused:
        Tables(layout)
    assert "\n" not in str(refused.value)
    assert str(COMMON_LIMIT_MOST) in str(refused.value)
    assert "[9967, 9973]" in str(refused.value)
    assert Trial(layout).run((), limit=10).at_rest, "the readable simulator takes them"


def test_stack_limits_with_one_are_not() -> None:
    """Fill levels of mixed stacks, in whole numbers."""
    layout = with_limits(7, 9, 64, 25)
    both = [((0, 0, 1), f"kind{i}", count) for i, count in enumerate((30, 41, 700, 101))]
    trial, run = Trial(layout), Run(Tables(layout))
    for load in both:
        trial.world.put([load])
        assert run.put(*load) == load[2]
    trial.world.start()
    run.start()
    for _ in range(200):
        trial.world.advance()
        run.advance()
        assert kernel_state(run) == world_state(trial, run.tables)
