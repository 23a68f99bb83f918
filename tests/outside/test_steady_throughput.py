"""Steady flow along rows against the bound of a deterministic tandem line.

A line of servers with constant service times that is never starved delivers one item each longest service time: at the
rate of its slowest server, 1 / max (textbook queueing theory, deterministic tandem line; from memory). A node passes
one item each ``period`` ticks; a handover keeps an item for less long or longer, once, but no node can move more often
than that.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import pytest

from outside.rows import Numbers, burst_row_layout, line_layout
from sim.world.geometry import Cell
from sim.world.kernel.run import Run
from sim.world.kernel.tables import Tables
from sim.world.layout import Layout
from sim.world.trial import Arrival, Trial

PERIODS = (1, 3, 8, 11)


def arrivals_in_simulator(layout: Layout, items: int) -> list[int]:
    """The tick of each item that enters an output, all in one list, ascending."""
    trial = Trial(layout)
    outputs, found = set(layout.streams[0].outputs), []
    trial.world.entered = lambda tick, cell, kind: found.append(tick) if cell in outputs else None
    assert trial.run([Arrival(0, "feed", items)], limit=100_000).at_rest
    return found


def arrivals_in_kernel(layout: Layout, items: int, sinks: Sequence[Cell] = ()) -> list[int]:
    """The same of the kernel, by what was delivered after each tick."""
    run, found = Run(Tables(layout, sinks=sinks)), list[int]()
    assert run.put(layout.streams[0].source, "clay", items) == items
    while not run.run_to(run.tick + 1):
        found += [run.tick] * (sum(run.delivered()[0]) - len(found))
    return found


def within_the_source_nodes_limit(ticks: Sequence[int], period: int) -> bool:
    """No item comes before its first node can have taken it in: in ticks 1, 1 + period, ..., one each."""
    return all(tick > 1 + number * period for number, tick in enumerate(ticks))


@pytest.mark.parametrize("handover", [7, 8])
@pytest.mark.parametrize("nodes", [1, 2, 5, 9])
def test_a_plain_row_passes_one_item_each_period(nodes: int, handover: int) -> None:
    layout = line_layout(nodes, Numbers(handover=handover))
    for arrivals in (arrivals_in_simulator(layout, 150), arrivals_in_kernel(layout, 150)):
        assert len(arrivals) == 150
        assert within_the_source_nodes_limit(arrivals, 8)
        assert {later - tick for tick, later in pairwise(arrivals)} == {8}


@pytest.mark.parametrize("handover", [1, 2, 7, 8, 13])
@pytest.mark.parametrize("period", PERIODS)
def test_a_long_stretch_reaches_the_bound_and_no_stretch_is_above_it(period: int, handover: int) -> None:
    """From the first item on: 100 periods give 100 items; and never two in less than a period."""
    layout = line_layout(4, Numbers(period=period, handover=handover))
    for arrivals in (arrivals_in_simulator(layout, 300), arrivals_in_kernel(layout, 300, ends(layout))):
        assert arrivals == sorted(arrivals)
        steady = arrivals[100:]
        assert steady[-1] - steady[0] == (len(steady) - 1) * period
        assert min(later - tick for tick, later in pairwise(arrivals)) >= period


@pytest.mark.parametrize("handover", [7, 8])
@pytest.mark.parametrize("targets", [2, 3, 5, 8])
def test_a_row_with_its_lock_reaches_the_limit_of_its_source_node(targets: int, handover: int) -> None:
    """In bursts of N. No item comes before T0 can have taken it in, and it never falls further behind than at first."""
    numbers = Numbers(handover=handover)
    layout = burst_row_layout(targets, numbers)
    items = 40 * targets
    in_simulator, in_kernel = arrivals_in_simulator(layout, items), arrivals_in_kernel(layout, items, ends(layout))
    assert in_simulator == in_kernel
    assert len(in_simulator) == items
    assert within_the_source_nodes_limit(in_simulator, numbers.period)
    behind = [tick - number * numbers.period for number, tick in enumerate(in_simulator)]
    assert max(behind[items // 2 :]) <= max(behind[: items // 2]), "the row falls further and further behind T0"


def ends(layout: Layout) -> tuple[Cell, ...]:
    return layout.streams[0].outputs
