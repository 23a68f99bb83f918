"""The laws of the rulebook, row by row (``law_table``), and properties that every run of any build has."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from law_table import RUNS, SETTLED, Run, Settled, level
from sim.errors import InputError
from sim.world.geometry import Cell, step
from sim.world.layout import Layout
from sim.world.parts import Node
from sim.world.trial import Arrival, TrialResult, arrivals_for
from sim.world.world import World
from symmetries import Symmetry, all_symmetries
from worlds import drawn, normal, random_run, shown, told, traced


def law_id(row: Settled | Run) -> str:
    return row.law


def arrivals_of(row: Run) -> list[Arrival]:
    return [Arrival(tick, stream, count) for tick, puts in row.loads.items() for stream, count in puts.items()]


# -- the table ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", SETTLED, ids=law_id)
def test_settled_signals(row: Settled) -> None:
    assert shown(World(drawn(row.drawing, row.lines))) == normal(row.signals)


@pytest.mark.parametrize("row", RUNS, ids=law_id)
def test_run(row: Run) -> None:
    changes, result = traced(drawn(row.drawing, row.lines), arrivals_of(row), ticks=row.ticks)
    assert told(changes) == (row.trace.split(" ; ") if row.trace else [])
    assert tuple((finding.check, finding.tick) for finding in result.findings) == row.findings
    assert result.at_rest == (row.ticks is None)
    if row.ticks is None:
        assert result.tick == (int(row.trace.split(" ; ")[-1].split(":")[0]) if row.trace else 0)


@pytest.mark.parametrize("row", RUNS, ids=law_id)
def test_skipping_quiet_ticks_changes_nothing_in_the_table(row: Run) -> None:
    layout = drawn(row.drawing, row.lines)
    assert traced(layout, arrivals_of(row), ticks=row.ticks, skip=False) == traced(
        layout, arrivals_of(row), ticks=row.ticks
    )


@pytest.mark.parametrize("row", SETTLED, ids=law_id)
def test_settled_signals_turned_and_mirrored(row: Settled) -> None:
    layout = drawn(row.drawing, row.lines)
    _, straight = traced(layout, ticks=0)
    for symmetry in all_symmetries():
        _, turned = traced(symmetry.layout(layout), ticks=0)
        assert turned == symmetry.result(straight, layout.size), symmetry


# -- numbers -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "reading"),
    [
        # A node of 5 slots takes 320 clay: 14·n/320 is below 1 up to 22 (0.96), above it from 23 (1.006).
        ("", 0),
        ("holds 0,0,0 clay 1", 1),
        ("holds 0,0,0 clay 22", 1),
        ("holds 0,0,0 clay 23", 2),
        ("holds 0,0,0 clay 64 64 64 64 63", 14),
        ("holds 0,0,0 clay 64 64 64 64 64", 15),
        # Half of 5 slots: 1 + 7 exactly. One item less: 14·159/320 = 6.96.
        ("holds 0,0,0 clay 64 64 32", 8),
        ("holds 0,0,0 clay 64 64 31", 7),
        # The mean of count/limit of the kind in each slot: a full slot of 1 and a full one of 64 weigh the same.
        ("item clay stack 1\nholds 0,0,0 clay 1", 3),
        ("item clay stack 1\nholds 0,0,0 clay 1 brick 64", 6),
        ("item clay stack 1\nholds 0,0,0 clay 1 brick 64 charcoal 32", 8),
        # 1 + 14·(2/3 + 2/6)/2 = 8; 1 + 14·(1/7 + 4/7)/2 = 6, where binary fractions fall short of 6.
        ("rule node_slots 2\nitem clay stack 3\nitem brick stack 6\nholds 0,0,0 clay 2 brick 2", 8),
        ("rule node_slots 2\nitem clay stack 7\nholds 0,0,0 clay 1 4", 6),
    ],
)
def test_fill_level_is_exact(lines: str, reading: int) -> None:
    """Fill level = 0 if empty, else floor(1 + 14 · mean over all slots of count/limit)."""
    assert shown(World(drawn("nW gE", lines))) == f". {reading}"


@pytest.mark.parametrize("reading", range(2, 16))
def test_every_level_of_a_gauge_runs_as_far_as_it_says(reading: int) -> None:
    layout = drawn("B gE" + " -" * 16, level(reading))
    levels = [max(0, reading - i) for i in range(16)]
    assert shown(World(layout)) == " ".join([".", str(reading), *map(str, levels)])


@pytest.mark.parametrize(("last", "overheats_at"), [(59, 63), (60, None)])
def test_overheats_at_the_8th_switch_off_within_60_ticks(last: int, overheats_at: int | None) -> None:
    """Two items put in after tick t keep the bin filled until t + 3: the gauge is on from t + 2 to t + 5, and the
    inverter is out from t + 4 to t + 7. Last minus first is 59, or 60."""
    layout = drawn("B nW # . . / . B gE # iW", "rule period 2\nstream feed clay from 1,0,1 to 0,0,0")
    puts = [0, 8, 16, 24, 32, 40, 48, last]
    changes, result = traced(layout, [Arrival(tick, "feed", 2) for tick in puts])
    assert [tick for tick, cell, state in changes if (cell, state) == ((4, 0, 1), "= 0")] == [t + 4 for t in puts]
    found = [(finding.check, finding.at, finding.tick) for finding in result.findings]
    assert found == ([("overheats", (4, 0, 1), overheats_at)] if overheats_at else [])


@pytest.mark.parametrize(("burn", "at_rest"), [(40, False), (39, True), (30, True)])
def test_a_furnace_is_at_rest_when_its_fire_can_finish_no_further_item(burn: int, at_rest: bool) -> None:
    """Two items of 20 ticks each, at tick 25: a fire of 40 ticks finishes the second, a shorter one only burns down."""
    lines = f"rule firing 20\nitem charcoal stack 64 burn {burn}\nholds 0,0,0 clay 2 charcoal 1"
    _, result = traced(drawn("F", lines), ticks=25)
    assert result.at_rest == at_rest


# -- properties of any build -------------------------------------------------------------------------------------------

SEEDS = st.integers(min_value=0, max_value=2**32 - 1)
TICKS = 160


def ran(layout: Layout, case: dict[str, Any], skip: bool = True) -> tuple[list[Any], TrialResult]:
    arrivals = arrivals_for(layout, case["loads"], case["every"])
    return traced(layout, arrivals, order=case["order"], skip=skip, ticks=TICKS)


def started(seed: int, entered: Any = None) -> World:
    """The world of a random build with its whole load in, at tick 0."""
    layout, case = random_run(random.Random(seed))
    world = World(layout, order=case["order"], entered=entered)
    try:
        world.put([(s.source, s.item, case["loads"][s.name]) for s in layout.streams])
    except InputError:
        assume(False)
    world.start()
    return world


@settings(max_examples=60)
@given(SEEDS)
def test_skipping_quiet_ticks_changes_nothing(seed: int) -> None:
    layout, case = random_run(random.Random(seed))
    try:
        skipped = ran(layout, case)
    except InputError:
        assume(False)
    assert ran(layout, case, skip=False) == skipped


@settings(max_examples=60)
@given(SEEDS, st.sampled_from(list(all_symmetries())[1:]))
def test_turning_and_mirroring_changes_nothing(seed: int, symmetry: Symmetry) -> None:
    layout, case = random_run(random.Random(seed))
    try:
        changes, result = ran(layout, case)
    except InputError:
        assume(False)
    turned = dict(case)
    if case["order"] is not None:
        turned["order"] = [symmetry.cell(cell, layout.size) for cell in case["order"]]
    turned_changes, turned_result = ran(symmetry.layout(layout), turned)
    assert turned_changes == symmetry.changes(changes, layout.size)
    assert replace_texts(turned_result) == symmetry.result(result, layout.size)


def replace_texts(result: TrialResult) -> TrialResult:
    """Findings without their texts, which name cells."""
    return replace(result, findings=tuple(replace(finding, text="") for finding in result.findings))


def families(layout: Layout) -> dict[str, str]:
    """A name for all the kinds that fire to one another."""
    family: dict[str, str] = {}

    def name(kind: str) -> str:
        return name(family[kind]) if family.get(kind, kind) != kind else kind

    for kind, item in layout.items.items():
        if item.fires_to is not None:
            family[name(kind)] = name(item.fires_to)
    return {kind: name(kind) for kind in {*layout.items, *family}}


def held(world: World) -> Counter[str]:
    """Items in all containers by family."""
    names = families(world.layout)
    count: Counter[str] = Counter()
    for store in world.stores.values():
        for slot in store.slots():
            if slot is not None:
                count[names.get(slot[0], slot[0])] += slot[1]
    return count


def burnt_in_one_tick(world: World) -> int:
    """Run one tick; how many furnaces took fuel in it, told by fires that did not just burn down."""
    before = {cell: furnace.fire for cell, furnace in world.furnaces.items()}
    world.advance()
    return sum(furnace.fire > max(0, before[cell] - 1) for cell, furnace in world.furnaces.items())


@settings(max_examples=150)
@given(SEEDS)
def test_items_are_conserved_but_by_firing(seed: int) -> None:
    """Firing changes kinds within a family, and each fire lit takes one item that burns; nothing else changes."""
    world = started(seed)
    burning = {families(world.layout).get(kind, kind) for kind, item in world.layout.items.items() if item.burn}
    before, burnt = held(world), 0
    for _ in range(TICKS):
        burnt += burnt_in_one_tick(world)
    lost = before - held(world)
    assert held(world) - before == Counter()
    assert set(lost) <= burning
    assert lost.total() == burnt


def moved_by_locked_nodes(seed: int) -> tuple[int, int]:
    """In a run: times that a locked node could have been seen to move, and times that it was.

    Seen by what enters containers: nothing enters a locked node's own cell, nor the cell that it pushes into, in a tick
    in which no unlocked node pushes or pulls into that cell.
    """
    entered: list[Cell] = []
    world = started(seed, entered=lambda tick, cell, kind: entered.append(cell))
    nodes = [part for part in world.layout.parts if isinstance(part, Node)]
    looked = moved = 0
    for _ in range(TICKS):
        entered.clear()
        world.advance()
        locked = {part.at for part in nodes if world.is_locked(world.nodes[part.at])}
        fed = {cell for part in nodes if part.at not in locked for cell in (part.at, step(part.at, part.outlet))}
        cells = {c for part in nodes if part.at in locked for c in (part.at, step(part.at, part.outlet))} - fed
        looked += len(cells & world.stores.keys())
        moved += len(cells & set(entered))
    return looked, moved


@settings(max_examples=60)
@given(SEEDS)
def test_a_locked_node_moves_nothing(seed: int) -> None:
    assert moved_by_locked_nodes(seed)[1] == 0


def test_the_properties_are_about_something() -> None:
    """Random builds do lock nodes, light fires and move items; else the properties above would say nothing."""
    worlds = [started(seed) for seed in range(120)]
    burnt = [sum(burnt_in_one_tick(world) for _ in range(TICKS)) > 0 for world in worlds]
    moved = [any(node.ready_at for node in world.nodes.values()) for world in worlds]
    looked = [moved_by_locked_nodes(seed)[0] > 0 for seed in range(40)]
    assert sum(burnt) >= 5
    assert sum(moved) >= 60
    assert sum(looked) >= 10
