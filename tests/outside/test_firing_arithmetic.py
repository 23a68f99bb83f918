"""Firing by arithmetic: which tick brings out which product (RULEBOOK.md section 3, "Firing").

One item takes 200 ticks of fire, a charcoal burns 1600: so one charcoal fires 8 items. Without fire progress runs back
by 2 a tick. Straw and twigs are made-up fuels of other burning times.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from itertools import permutations

import pytest

from sim.world.geometry import Cell
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Furnace, Node, Part, Slot
from sim.world.trial import Arrival, Trial
from sim.world.world import World

FIRING, RETREAT = 200, 2
BURN = {"charcoal": 1600, "straw": 300, "twigs": 50}
KILN: Cell = (1, 0, 0)
PULL_TO_PUSH = 8
"""A node pulls an item in the tick after it was put into the bin above, and pushes it one period later."""


def brickyard(holds: tuple[Slot | None, ...], *, stored: Sequence[Slot] = (), kiln_first: bool = False) -> Layout:
    """A kiln; fuel comes from a bin to the west through a node, feed from a bin above through another.

    ``stored``: what the fuel bin holds at the start. ``kiln_first``: the kiln's turn comes before the nodes'.
    """
    kiln = Furnace(KILN, holds)
    parts: list[Part] = [Bin((0, 0, 1), "plain", tuple(stored)), Node((0, 0, 0), "E")]
    parts += [Bin((1, 0, 2)), Node((1, 0, 1), "D")]
    items = {kind: ItemKind(burn=ticks) for kind, ticks in BURN.items()} | {"clay": ItemKind(fires_to="brick")}
    streams = [Stream(fuel, fuel, (0, 0, 1), (KILN,)) for fuel in BURN] + [Stream("feed", "clay", (1, 0, 2), (KILN,))]
    return Layout("kiln", (2, 1, 3), items, (kiln, *parts) if kiln_first else (*parts, kiln), tuple(streams))


def fired(layout: Layout, arrivals: Sequence[Arrival] = (), *, skip: bool = True) -> list[int]:
    """The tick of each product, in a run to rest."""
    ticks: list[int] = []

    def watch(world: World) -> None:
        count = world.stores[KILN].counts[2]
        assert count - len(ticks) in (0, 1)
        if count > len(ticks):
            ticks.append(world.tick)

    result = Trial(layout, watchers=[watch], skip=skip).run(arrivals, limit=100_000)
    assert result.at_rest
    assert not result.stopped
    return ticks


def by_arithmetic(fires: Sequence[tuple[int, int]]) -> list[int]:
    """The tick of each product, feed never lacking: ``fires`` are (first tick with fire, ticks that it lasts)."""
    ticks: list[int] = []
    progress, out = 0, 0
    for lit, lasts in fires:
        progress = max(0, progress - RETREAT * (lit - out))
        started = lit - progress  # when it would have been begun in a fire without gaps
        out = lit + lasts
        ticks += range(started + FIRING - 1, out, FIRING)
        progress = (out - started) % FIRING
    return ticks


@pytest.mark.parametrize("feed", [1, 7, 8, 9, 64])
@pytest.mark.parametrize("skip", [True, False])
def test_one_charcoal_fires_eight_items(feed: int, skip: bool) -> None:
    assert BURN["charcoal"] // FIRING == 8
    products = min(feed, 8)
    assert fired(brickyard((("clay", feed), ("charcoal", 1))), skip=skip) == [200 * k for k in range(1, products + 1)]


@pytest.mark.parametrize(
    ("fuel", "count", "products"),
    [("charcoal", 2, 16), ("straw", 1, 1), ("straw", 2, 3), ("twigs", 3, 0), ("twigs", 9, 2)],
)
def test_fuel_of_one_kind_burns_without_gaps(fuel: str, count: int, products: int) -> None:
    """products = count x burn / 200, rounded down."""
    layout = brickyard((("clay", 20), (fuel, count)))
    assert fired(layout) == [200 * k for k in range(1, products + 1)]
    trial = Trial(layout)
    trial.run()
    bricks = ("brick", products) if products else None
    assert trial.world.stores[KILN].slots() == (("clay", 20 - products), None, bricks)


@pytest.mark.parametrize("fuels", list(permutations(BURN)))
@pytest.mark.parametrize("kiln_first", [False, True])
def test_fuels_in_sequence_burn_without_gaps(fuels: tuple[str, ...], kiln_first: bool) -> None:
    """1600 + 300 + 50 ticks of fire in any order: 9 items, and 150 ticks of the tenth."""
    first, *others = fuels
    layout = brickyard((("clay", 20), (first, 1)), stored=[(fuel, 1) for fuel in others], kiln_first=kiln_first)
    assert fired(layout) == [200 * k for k in range(1, 10)]


@pytest.mark.parametrize("kiln_first", [False, True])
@pytest.mark.parametrize(
    ("gap", "later"),
    [(0, [400, 600]), (1, [403]), (10, [430]), (49, [547]), (50, [550]), (51, [551]), (200, [700])],
)
def test_progress_runs_back_while_the_fire_is_out(gap: int, later: list[int], kiln_first: bool) -> None:
    """Straw burns in ticks 1 to 300: one product in tick 200, and progress 100. ``gap`` ticks later more straw has
    (100 - 2 x gap) to go on from, but no less than 0; without a gap 600 ticks of fire make three."""
    lit = 301 + gap
    arrival = lit - 1 - PULL_TO_PUSH - kiln_first
    layout = brickyard((("clay", 20), ("straw", 1)), kiln_first=kiln_first)
    assert later[0] == lit - 1 + FIRING - max(0, 100 - 2 * gap)
    assert fired(layout, [Arrival(arrival, "straw", 1)]) == [200, *later]


@pytest.mark.parametrize("seed", range(40))
def test_fires_with_gaps(seed: int) -> None:
    """Fuels of random kinds coming in at random times: fuel that comes too early waits, fuel that comes late finds
    the fire out for a while."""
    rng = random.Random(seed)
    kiln_first = rng.random() < 0.5
    fires: list[tuple[int, int]] = []
    arrivals: list[Arrival] = []
    put, lit, out = 0, 0, 0
    for _ in range(rng.randint(2, 7)):
        fuel = rng.choice(list(BURN))
        put = max(put + 20, lit, out - rng.randint(0, 60)) + rng.choice((0, 3, 12, 40, 90, 200))
        lit = max(out, put + 1 + PULL_TO_PUSH + kiln_first)
        out = lit + BURN[fuel]
        fires.append((lit, BURN[fuel]))
        arrivals.append(Arrival(put, fuel, 1))
    layout = brickyard((("clay", 64),), kiln_first=kiln_first)
    expected = by_arithmetic(fires)
    assert fired(layout, arrivals) == expected
    assert fired(layout, arrivals, skip=False) == expected


def test_feed_that_comes_late_finds_less_of_the_fire() -> None:
    """The only item is fired in tick 200; the next reaches the kiln in tick 400. Ticks 400 to 1600 have fire for six
    more, each 200 ticks after the one before; the charcoal makes 7, not 8."""
    layout = brickyard((("clay", 1), ("charcoal", 1)))
    ticks = fired(layout, [Arrival(400 - 1 - PULL_TO_PUSH, "feed", 20)])
    assert ticks == [200, *(399 + 200 * k for k in range(1, 7))]


@pytest.mark.parametrize("skip", [True, False])
def test_a_full_product_slot_stops_the_kiln_but_not_the_fire(skip: bool) -> None:
    """Room for 4 more bricks: 4 are fired; the rest of the charcoal burns away, the second one is kept."""
    layout = brickyard((("clay", 20), ("charcoal", 2), ("brick", 60)))
    trial = Trial(layout, skip=skip)
    result = trial.run()
    assert (result.tick, result.at_rest) == (800, True)
    trial.run(ticks=3000)
    assert trial.world.stores[KILN].slots() == (("clay", 16), ("charcoal", 1), ("brick", 64))


def test_the_arithmetic_itself() -> None:
    """Two fires worked out by hand: 300 ticks from tick 1, then 10 ticks out, then 150 and no gap to 250 more."""
    cases: Mapping[tuple[tuple[int, int], ...], list[int]] = {
        ((1, 1600),): [200, 400, 600, 800, 1000, 1200, 1400, 1600],
        ((1, 199), (300, 200)): [499],
        ((1, 300), (311, 150), (461, 250)): [200, 430, 630],
    }
    assert {fires: by_arithmetic(fires) for fires in cases} == cases
