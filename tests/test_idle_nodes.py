"""A node whose turn moved nothing is passed over until contents beside it change; then it moves as soon as ever.

Ticks worked out by hand from the rulebook, section 3 ("A node's turn"): a node without cooldown moves in the first
tick in which it can.
"""

from __future__ import annotations

import pytest

from sim.world.geometry import Cell
from sim.world.world import World
from worlds import drawn

STACKS = "item clay stack 1 fires-to brick\nitem brick stack 1\nitem charcoal stack 1 burn 9\nrule firing 3\n"


def idle(world: World) -> set[Cell]:
    return {cell for cell, node in world.nodes.items() if node.idle}


def advance(world: World, ticks: int) -> None:
    for _ in range(ticks):
        world.advance()


@pytest.mark.parametrize("waited", [1, 2, 30])
def test_a_load_above_is_pulled_in_the_next_tick(waited: int) -> None:
    world = World(drawn("nD / B"))
    advance(world, waited)
    assert idle(world) == {(0, 0, 0)}
    world.put([((0, 0, 1), "clay", 1)])
    assert not idle(world)
    assert world.advance()
    assert world.stores[(0, 0, 0)].slots()[0] == ("clay", 1)


def test_room_in_the_target_is_used_in_the_next_tick() -> None:
    """The upper node is held up by a full bin until the lower one, whose turn comes after it, pulls from there."""
    lines = STACKS + "rule bin_slots 1\nrule node_slots 1\nholds 0,0,1 clay 1\nholds 1,0,1 clay 1"
    world = World(drawn(". nD / nE B", lines), order=[(0, 0, 1), (1, 0, 0)])
    advance(world, 1)
    assert world.stores[(1, 0, 1)].is_empty()
    assert not idle(world)
    advance(world, 1)
    assert world.stores[(1, 0, 1)].slots() == (("clay", 1),)
    assert world.stores[(0, 0, 1)].is_empty()
    advance(world, 30)
    assert idle(world) == {(0, 0, 1), (1, 0, 0)}


def test_a_product_wakes_the_node_below_its_kiln() -> None:
    lines = STACKS + "holds 0,0,1 clay 1 charcoal 1"
    world = World(drawn("nD / F", lines))
    advance(world, 2)
    assert idle(world) == {(0, 0, 0)}
    assert world.stores[(0, 0, 0)].is_empty()
    advance(world, 1)
    assert world.stores[(0, 0, 1)].slots()[2] == ("brick", 1)
    advance(world, 1)
    assert world.stores[(0, 0, 0)].slots()[0] == ("brick", 1)
