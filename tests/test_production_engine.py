"""The engine of the whole-hall trial: meters and hands against ``sim.world.world``, snapshots, taking a furnace
away."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from commands import LAYOUTS
from halls import BIN_HALL, ROW_HALL, hall
from outside.rows import burst_row_layout
from sim.analysis.production.balance import balance_of
from sim.analysis.production.floor import Floor
from sim.analysis.production.metering import BLOCKED, FIRED, FULL, LIT, LONGEST, NO_FEED, NO_FUEL, PROGRESSED
from sim.analysis.production.snapshot import carried_over, without
from sim.world.files.plan import layout_from_plan
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.items.furnace import FUEL, PRODUCT, FurnaceState
from sim.world.kernel.run import Run
from sim.world.kernel.tables import Tables
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Node
from sim.world.trial import Arrival, Trial
from sim.world.world import World
from test_kernel_agreement import kernel_state

QUICK = {"firing": 20, "stack": 4, "node_slots": 1}
"""Small numbers: slots fill, products block and fires go out within a short run."""


def quick(plan: str) -> Layout:
    """A hall of small numbers, with fuel that lasts for two and a half items."""
    return hall(plan.replace("stack 64", "stack 4").replace("burn 1600", "burn 50"), **QUICK)


HALLS = {"row": quick(ROW_HALL), "bins": quick(BIN_HALL), "locked": burst_row_layout(3)}


class Watched:
    """The readable simulator, with the meters worked out once more from each furnace before and after its turn."""

    def __init__(self, layout: Layout) -> None:
        self.world = World(layout)
        self.meters = {cell: Counter[int]() for cell in self.world.furnaces}
        self.stretch = Counter[Cell]()
        self._firing = self.world._firing
        self.world._firing = self  # type: ignore[assignment]

    def __getattr__(self, name: str) -> Any:
        return getattr(self._firing, name)

    def turn(self, furnace: FurnaceState) -> bool:
        """The turn, with what it used up and made."""
        before, progress = furnace.store.slots(), furnace.progress
        changed = self._firing.turn(furnace)
        after, meter = furnace.store.slots(), self.meters[furnace.at]
        meter[LIT] += before[FUEL] != after[FUEL]
        fired = before[PRODUCT] != after[PRODUCT]
        meter[FIRED] += fired
        if fired or furnace.progress > progress:
            meter[PROGRESSED] += 1
            self.stretch[furnace.at] = -1
        return changed

    def advance(self) -> None:
        """One tick; a furnace that does not get a turn makes no progress."""
        self.world.advance()
        for cell, meter in self.meters.items():
            self.stretch[cell] += 1
            meter[LONGEST] = max(meter[LONGEST], self.stretch[cell])


@pytest.mark.parametrize("name", HALLS)
def test_meters_and_hands_agree_with_the_readable_simulator(name: str) -> None:
    """Feed, fuel and products; bins filled and emptied by hand on the way; everything compared at each tick."""
    layout = HALLS[name]
    floor, watched = Floor(Tables(layout)), Watched(layout)
    world = watched.world
    ends = [part.at for part in layout.parts if isinstance(part, Bin)]
    ends = [cell for cell in ends if cell not in {stream.source for stream in layout.streams}]
    for tick in range(1500):
        if tick % 300 == 0:
            for stream in layout.streams:
                count = 18 if stream.item == "charcoal" else 60
                room = min(count, _room(world, stream.source, stream.item))
                world.put([(stream.source, stream.item, room)])
                assert floor.put(stream.source, stream.item, room) == room
            for cell in ends:
                taken = floor.take_all(cell)
                assert taken == _counts(world, cell)
                _empty(world, cell)
        watched.advance()
        floor.advance_to(tick + 1)
        assert floor.contents() == {cell: store.slots() for cell, store in world.stores.items()}, tick
        assert floor.run.locked() == [cell for cell, node in world.nodes.items() if world.is_locked(node)], tick
        for row, cell in enumerate(floor.furnaces):
            meter = watched.meters[cell]
            ours = {column: int(floor.meters[row, column]) for column in (PROGRESSED, LIT, FIRED, LONGEST)}
            assert ours == {column: meter[column] for column in ours}, (tick, cell)
    assert all(one.lost == 0 for one in balance_of(floor))
    if name != "locked":
        assert floor.meters[:, LIT].min() > 3
        assert floor.meters[:, FIRED].min() > 8


def _room(world: World, cell: Cell, kind: str) -> int:
    store = world.stores[cell]
    free = sum(held is None for held in store.kinds) * store.limit(kind)
    return free + sum(store.limit(kind) - n for held, n in zip(store.kinds, store.counts, strict=True) if held == kind)


def _counts(world: World, cell: Cell) -> Counter[str]:
    return sum((Counter({slot[0]: slot[1]}) for slot in world.stores[cell].slots() if slot), Counter[str]())


def _empty(world: World, cell: Cell) -> None:
    """What ``World.put`` does the other way round."""
    world.stores[cell].restore(())
    if world.tick:
        world._contents_changed([cell])


def test_ticks_are_progress_or_idle_for_one_reason() -> None:
    floor = Floor(Tables(HALLS["row"]))
    floor.put((0, 0, 4), "clay", 100)
    floor.put((0, 1, 3), "charcoal", 20)
    floor.advance_to(1000)
    sums = floor.meters[:, [PROGRESSED, NO_FEED, BLOCKED, FULL, NO_FUEL]].sum(axis=1)
    assert list(sums) == [1000, 1000, 1000]


def test_progress_is_a_firing_for_each_item_when_no_fire_goes_out() -> None:
    floor = Floor(Tables(hall(BIN_HALL)))
    floor.put((0, 0, 3), "clay", 10)
    floor.put((0, 1, 2), "charcoal", 2)
    floor.advance_to(4000)
    assert [int(floor.meters[0, column]) for column in (FIRED, LIT, PROGRESSED)] == [10, 2, 10 * 200]
    assert list(floor.meters[1, [FIRED, LIT, PROGRESSED]]) == [0, 0, 0]
    assert int(floor.meters[1, NO_FEED]) == 4000


def test_the_longest_stretch_is_the_longer_of_two() -> None:
    """By hand: clay in the kiln in tick 9, fired in ticks 10 to 209; idle from 210 on until the next progress."""
    floor = Floor(Tables(hall(BIN_HALL)))
    floor.put((0, 1, 2), "charcoal", 9)
    floor.put((0, 0, 3), "clay", 1)
    floor.advance_to(1000)
    assert [int(floor.meters[0, column]) for column in (FIRED, LONGEST)] == [1, 1000 - 209]
    floor.put((0, 0, 3), "clay", 1)
    floor.advance_to(1300)
    assert int(floor.meters[0, LONGEST]) == 1009 - 209, "pushed in tick 1009, behind the kiln's turn"


@pytest.mark.parametrize("slots", [(("sand", 1), ("charcoal", 2), None), (("clay", 3), ("charcoal", 2), ("brick", 64))])
def test_reasons_to_stand_idle(slots: tuple[tuple[str, int] | None, ...]) -> None:
    layout = hall(BIN_HALL)
    parts = tuple(
        replace(part, holds=slots) if isinstance(part, Furnace) and part.at == (0, 0, 1) else part
        for part in layout.parts
        if part.at != (0, 0, 0)
    )
    floor = Floor(Tables(replace(layout, parts=parts)))
    floor.advance_to(500)
    assert int(floor.meters[0, BLOCKED if slots[0] == ("sand", 1) else FULL]) == 500
    assert floor.contents()[0, 0, 1] == slots


@pytest.mark.parametrize("name", HALLS)
@pytest.mark.parametrize("at", [1, 37, 200, 411])
def test_a_world_carried_over_into_the_same_layout_goes_on_as_if_nothing_had_been(name: str, at: int) -> None:
    run, other = Run(Tables(HALLS[name])), Run(Tables(HALLS[name]))
    for each in (run, other):
        for stream in HALLS[name].streams:
            each.put(stream.source, stream.item, 25)
        for _ in range(at):
            each.advance()
    run = carried_over(run, HALLS[name])
    for _ in range(400):
        assert kernel_state(run) == kernel_state(other)
        run.advance()
        other.advance()


def test_pending_changes_are_carried_over() -> None:
    """Cut in every tick in which something is pending: it still falls due."""
    layout = HALLS["locked"]
    run = Run(Tables(layout))
    run.put((0, 3, 3), "clay", 7)
    cuts = 0
    for _ in range(120):
        run.advance()
        pending = kernel_state(run)["queue"]
        if pending:
            cuts += 1
            run = carried_over(run, layout)
            assert kernel_state(run)["queue"] == pending
    plain = Run(Tables(layout))
    plain.put((0, 3, 3), "clay", 7)
    for _ in range(120):
        plain.advance()
    assert cuts > 10
    assert kernel_state(run) == kernel_state(plain)


def test_a_furnace_taken_away_leaves_a_world_like_one_built_without_it() -> None:
    """From rest on: what is left behaves as a build without the furnace that starts with these contents."""
    layout = HALLS["row"]
    floor = Floor(Tables(layout))
    floor.put((0, 0, 4), "clay", 100)
    floor.advance_to(20_000)
    holds = {cell: slots for cell, slots in floor.contents().items() if cell != (2, 0, 1)}
    taken = floor.remove((2, 0, 1))
    assert taken == Counter({"clay": 4})
    later = without(layout, (2, 0, 1))
    parts = tuple(
        replace(part, holds=holds[part.at]) if isinstance(part, (Bin, Node, Furnace)) else part for part in later.parts
    )
    trial = Trial(replace(later, parts=parts))
    trial.run([Arrival(0, "fuel", 12)], ticks=3000)
    floor.put((0, 1, 3), "charcoal", 12)
    floor.advance_to(floor.tick + 3000)
    assert floor.contents() == {cell: store.slots() for cell, store in trial.world.stores.items()}
    assert (2, 0, 1) not in floor.contents()
    assert floor.meters[1, NO_FUEL] < 20_000, "the meter of the furnace that is gone stands still"
    assert all(one.lost == 0 for one in balance_of(floor))


def test_a_furnace_taken_away_changes_no_lock_that_it_has_no_part_in() -> None:
    """The lock of a burst row reaches its B nodes through supports, not furnaces; one gone changes no lock."""
    layout = load_layout(LAYOUTS / "burst-row-of-two.plan")
    floor = Floor(Tables(layout))
    floor.put(layout.streams[0].source, "clay", 9)
    floor.advance_to(300)
    locked, signals = floor.run.locked(), floor.run.signals()
    floor.remove(layout.streams[0].outputs[-1])
    assert floor.run.locked() == locked
    assert floor.run.signals() == signals


def test_a_furnace_that_carried_a_signal_takes_the_lock_away() -> None:
    """A lit inverter below energises the furnace, which locks the node on top of it."""
    layout = layout_from_plan(
        "splitwright-plan/1\ntitle Locked by its own kiln\nitem clay fires-to brick\n"
        "stream feed clay from 1,0,3 to 1,0,1\n"
        "layer 0\n# iW\nlayer 1\n. F\nlayer 2\n. nD\nlayer 3\n. B\n"
    )
    floor = Floor(Tables(layout))
    floor.put((1, 0, 3), "clay", 3)
    floor.advance_to(50)
    assert floor.run.locked() == [(1, 0, 2)]
    floor.remove((1, 0, 1))
    assert floor.run.locked() == []
    floor.advance_to(100)
    assert floor.contents()[1, 0, 2][0] == ("clay", 3), "it pulls again, and pushes into nothing"


def test_deliveries_to_a_furnace_that_is_gone_stay_known() -> None:
    floor = Floor(Tables(HALLS["row"]))
    floor.put((0, 0, 4), "clay", 50)
    floor.advance_to(600)
    before = floor.delivered()
    floor.remove((1, 0, 1))
    assert floor.delivered() == before
    assert before["feed", (1, 0, 1)] == 4
