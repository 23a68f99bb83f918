"""Items moving along a row: against a scheduling formula and, item by item, against SimPy models.

Sources: a line of nodes is a permutation flow shop with equal processing times, whose makespan is
(jobs + machines - 1) x processing time (Pinedo, Scheduling: Theory, Algorithms, and Systems, on proportionate flow
shops; from memory). SimPy 4.1 (discrete-event simulation) runs the models in ``simpy_world``.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

import pytest

from outside.rows import Model, Numbers, burst_row_layout, burst_row_model, line_layout, line_model
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.trial import Arrival, Trial

Loads = Sequence[tuple[int, int]]
Entries = dict[Cell, list[int]]
"""For each container: the tick in which each item was moved in."""


def simulated(layout: Layout, loads: Loads, order: Sequence[Cell] | None = None, *, skip: bool = True) -> Entries:
    """What the simulator does, from the first load to rest."""
    trial = Trial(layout, order=order, skip=skip)
    entries: Entries = {part.at: [] for part in layout.containers}
    tally = trial.world.entered

    def entered(tick: int, cell: Cell, kind: str) -> None:
        entries[cell].append(tick)
        if tally is not None:
            tally(tick, cell, kind)

    trial.world.entered = entered
    assert trial.run([Arrival(tick, "feed", count) for tick, count in loads], limit=100_000).at_rest
    return {cell: ticks for cell, ticks in entries.items() if cell != layout.streams[0].source}


def modelled(model: Model, loads: Loads, order: Sequence[Cell] | None = None) -> Entries:
    """What the SimPy model does."""
    nodes = model.nodes
    model.world.run(model.source, loads, order=[nodes[cell] for cell in order if cell in nodes] if order else None)
    return {cell: container.entered for cell, container in model.containers.items()}


@pytest.mark.parametrize("jobs", [1, 2, 3, 7, 54, 200])
@pytest.mark.parametrize("machines", [1, 2, 5, 12])
@pytest.mark.parametrize("period", [1, 4, 8, 11])
def test_makespan_is_that_of_a_flow_shop(jobs: int, machines: int, period: int) -> None:
    """Each node keeps an item for one period, handover included; the first one takes its first item in tick 1."""
    fixed_start = 1
    layout = line_layout(machines, Numbers(period=period, handover=period))
    arrivals = simulated(layout, [(0, jobs)])[machines - 1, 0, 0]
    assert len(arrivals) == jobs
    assert arrivals[-1] == (jobs + machines - 1) * period + fixed_start


@pytest.mark.parametrize("handover", [7, 8])
@pytest.mark.parametrize("nodes", [1, 2, 3, 6, 11])
def test_every_item_is_where_the_simpy_line_has_it(nodes: int, handover: int) -> None:
    numbers = Numbers(handover=handover)
    for loads in ([(0, 40)], [(5, 3), (6, 1), (40, 9)], [(10 * i, 1) for i in range(20)]):
        expected = modelled(line_model(nodes, numbers), loads)
        assert simulated(line_layout(nodes, numbers), loads) == expected
        assert [len(ticks) for ticks in expected.values()] == [sum(count for _, count in loads)] * (nodes + 1)


@pytest.mark.parametrize("seed", range(60))
def test_lines_that_block_in_any_update_order(seed: int) -> None:
    """Small slots, so that full nodes hold up those before them; random numbers, starts, arrivals and update orders."""
    rng = random.Random(seed)
    numbers = Numbers(rng.randint(1, 10), rng.randint(1, 10), rng.randint(1, 2), rng.randint(1, 3))
    nodes, into = rng.randint(1, 6), rng.choice(["bin", "furnace"])
    held = [rng.choice((0, 0, 1, numbers.stack)) for _ in range(nodes)]
    layout = line_layout(nodes, numbers, into=into, held=held)
    order = [part.at for part in layout.machines]
    rng.shuffle(order)
    loads = [(tick, rng.randint(1, 2)) for tick in sorted(rng.sample(range(80), rng.randint(1, 6)))]
    expected = modelled(line_model(nodes, numbers, into=into, held=held), loads, order)
    assert simulated(layout, loads, order) == expected
    assert simulated(layout, loads, order, skip=False) == expected


@pytest.mark.parametrize("handover", [7, 8])
@pytest.mark.parametrize("targets", [2, 3, 5, 8, 14, 32])
def test_every_item_is_where_the_simpy_burst_row_has_it(targets: int, handover: int) -> None:
    """Nodes, locks and delays together: gauges, inverters, relays, in every tick of the run."""
    numbers = Numbers(handover=handover)
    for loads in ([(0, targets)], [(0, 6 * targets)], [(0, 2 * targets), (20, 5), (300, targets + 1)]):
        expected = modelled(burst_row_model(targets, numbers), loads)
        assert simulated(burst_row_layout(targets, numbers), loads) == expected


@pytest.mark.parametrize("seed", range(30))
def test_burst_rows_under_any_arrivals_and_update_order(seed: int) -> None:
    rng = random.Random(seed)
    numbers = replace(Numbers(), handover=rng.choice([7, 8]))
    targets = rng.randint(2, 6)
    layout = burst_row_layout(targets, numbers)
    order = [part.at for part in layout.machines]
    rng.shuffle(order)
    loads = [(tick, rng.randint(1, 4)) for tick in sorted(rng.sample(range(300), rng.randint(1, 15)))]
    expected = modelled(burst_row_model(targets, numbers), loads, order)
    assert simulated(layout, loads, order) == expected
    assert sum(len(expected[cell]) for cell in layout.streams[0].outputs) > 0
