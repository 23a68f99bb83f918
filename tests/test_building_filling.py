"""The order in which containers get their starting contents: the simulator's own moves, and small builds by hand."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import networkx as nx
import pytest

from building_table import BRIMMED
from sim.analysis.building import filling
from sim.analysis.building.filling import MOST_WAIT, fill_sequence
from sim.world.files.plan import layout_from_plan
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Node, Slot
from sim.world.rulebook import default_rules
from sim.world.trial import run_trial
from sim.world.world import World
from worlds import drawn, random_run

T1, T2 = (0, 0, 2), (0, 1, 2)


class Moves:
    """A witness that keeps from where to where items moved."""

    def __init__(self) -> None:
        self.seen: set[tuple[Cell, Cell]] = set()

    def put(self, tick: int, kind: str, count: int, target: Cell) -> None:
        """Not looked at."""

    def moved(self, tick: int, kind: str, source: Cell, target: Cell) -> None:
        self.seen.add((source, target))

    def worked(self, tick: int, furnace: Cell, before: tuple[Slot | None, ...]) -> None:
        """Not looked at."""


def without_contents(layout: Layout) -> Layout:
    containers = (Bin, Node, Furnace)
    return replace(layout, parts=tuple(replace(p, holds=()) if isinstance(p, containers) else p for p in layout.parts))


def by_hand(layout: Layout, order: Sequence[Cell]) -> World:
    """The layout built empty, then filled slot by slot; after each one every tick is worked through until all rests."""
    world = World(without_contents(layout))
    wait(world)
    for part in (part for cell in order for part in layout.containers if part.at == cell):
        for number, slot in enumerate(part.holds):
            if slot is not None:
                for _ in range(slot[1]):
                    world.stores[part.at].put(slot[0], number)
                world.put([(part.at, slot[0], 0)])
                wait(world)
    return world


def wait(world: World) -> None:
    world.start()
    for _ in range(MOST_WAIT):
        if world.is_at_rest():
            return
        world.advance()


def totals(slots: Sequence[Slot | None]) -> Counter[str]:
    """How many of each kind."""
    return sum((Counter({slot[0]: slot[1]}) for slot in slots if slot is not None), Counter())


def held(world: World) -> dict[Cell, Counter[str]]:
    return {cell: totals(store.slots()) for cell, store in world.stores.items()}


def held_before_the_load(layout: Layout) -> dict[Cell, Counter[str]]:
    return {cell: totals(slots) for cell, slots in run_trial(layout, ()).contents.items()}


def test_a_row_filled_to_the_brim() -> None:
    """By hand: T2 has room for one item, so T1 gives it one at once, as it does when it starts with its contents."""
    layout = layout_from_plan(BRIMMED)
    found = filling(layout, default_rules())
    assert found is not None
    assert [(step.container.at, step.gone) for step in found.steps] == [(T2, 0), (T1, 1)]
    assert found.outcome == "settles"
    before = held_before_the_load(layout)
    assert (before[T1], before[T2]) == (Counter(clay=318), Counter(clay=320))
    assert held(by_hand(layout, [T2, T1])) == before


def test_the_other_way_round_the_row_empties_itself() -> None:
    """T1 first: all of it goes on to T2, which has no room left then for its own."""
    layout = layout_from_plan(BRIMMED)
    there = held(by_hand(layout, [T1, T2]))
    assert there[T1] == Counter()
    assert there != held_before_the_load(layout)


@pytest.mark.parametrize(
    ("drawing", "holds", "outcome", "steps"),
    [
        # nothing starts with contents
        ("nE nE", "", None, []),
        # the last node leads nowhere; it is full, so the first keeps what it gets
        ("nE nE", "holds 0,0,0 clay 3\nholds 1,0,0 clay 64 64 64 64 64", "kept", [((1, 0, 0), 0), ((0, 0, 0), 0)]),
        # an empty node in front takes it all, as it would in the layout
        ("nE nE nE", "holds 0,0,0 clay 3", "settles", [((0, 0, 0), 3)]),
        # a node pulls from the bin above: it is filled before that
        ("nE / B", "holds 0,0,0 clay 64 64 64 64 64\nholds 0,0,1 clay 7", "kept", [((0, 0, 0), 0), ((0, 0, 1), 0)]),
        # through an empty node in between: what lies at the far end comes first
        ("nE nE B", "holds 0,0,0 clay 1\nholds 2,0,0 clay 1", "settles", [((2, 0, 0), 0), ((0, 0, 0), 1)]),
        # a lit inverter beside it locks the first node
        ("nE nE ; iN . ; # .", "holds 0,2,0 clay 5", "settles", [((0, 2, 0), 5)]),
        # a locked node does not push
        ("nE nE ; iS . ; # .", "holds 0,2,0 clay 5", "kept", [((0, 2, 0), 0)]),
        # two that push into one another
        ("nE nW", "holds 0,0,0 clay 1", "restless", [((0, 0, 0), 0)]),
        # the gauge locks the node below as soon as the bin holds something, and is too late for the first item
        ("- ; # ; nS / # ; gN ; B", "holds 0,0,1 clay 5", "astray", [((0, 0, 1), 1)]),
        # a furnace uses up what it is filled with
        ("F", "holds 0,0,0 clay 1 charcoal 1", "settles", [((0, 0, 0), 1)]),
    ],
)  # fmt: skip
def test_small_builds(drawing: str, holds: str, outcome: str | None, steps: list[tuple[Cell, int]]) -> None:
    found = filling(drawn(drawing, holds), default_rules())
    assert (found and found.outcome) == outcome
    assert [(step.container.at, step.gone) for step in (found.steps if found else ())] == steps


def test_the_simulator_moves_nothing_but_from_later_to_earlier_containers() -> None:
    """Every move in random runs goes to a container that is filled before, but within a ring of them."""
    looked_at = 0
    for seed in range(150):
        layout, _ = random_run(random.Random(seed))
        world, moves = World(layout), Moves()
        world.witness = moves
        for _ in range(200):
            world.advance()
        place = {cell: number for number, cell in enumerate(fill_sequence(layout))}
        assert place.keys() == {part.at for part in layout.containers}
        backwards = {(source, target) for source, target in moves.seen if place[target] > place[source]}
        ways = nx.DiGraph(possible_moves(layout))
        assert all(nx.has_path(ways, target, source) for source, target in backwards)
        looked_at += len(moves.seen - backwards)
    assert looked_at > 100


def possible_moves(layout: Layout) -> list[tuple[Cell, Cell]]:
    """Rulebook section 3, once more for this file."""
    cells = {part.at for part in layout.containers}
    nodes = [part for part in layout.containers if isinstance(part, Node)]
    offsets = {"E": (1, 0, 0), "W": (-1, 0, 0), "N": (0, 1, 0), "S": (0, -1, 0), "D": (0, 0, -1)}
    pushes = [(n.at, (n.at[0] + dx, n.at[1] + dy, n.at[2] + dz)) for n in nodes for dx, dy, dz in [offsets[n.outlet]]]
    pulls = [((n.at[0], n.at[1], n.at[2] + 1), n.at) for n in nodes]
    return [(source, target) for source, target in [*pushes, *pulls] if source in cells and target in cells]


def test_what_is_said_of_a_filling_is_so_when_every_tick_is_worked_through() -> None:
    seen: Counter[str] = Counter()
    for seed in range(300):
        layout, _ = random_run(random.Random(seed))
        found = filling(layout, default_rules())
        if found is None or found.outcome == "restless":
            continue
        seen[found.outcome] += 1
        world = by_hand(layout, [step.container.at for step in found.steps])
        assert world.is_at_rest()
        there = held(world)
        if found.outcome == "kept":
            assert there == {part.at: totals(part.holds) for part in layout.containers}
        else:
            same = there == held_before_the_load(layout)
            assert same or found.outcome == "astray"
    assert min(seen[outcome] for outcome in ("kept", "settles", "astray")) >= 10
