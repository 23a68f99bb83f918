"""What is stuck, told of contents put there on purpose: the cell, the reason, the cure."""

from __future__ import annotations

from dataclasses import replace

import pytest

from halls import ROW_HALL, hall, locked_hall
from sim.analysis.production.hall import Hall
from sim.analysis.production.stuck import Stuck, stuck_in
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Node, Slot
from sim.world.rulebook import default_rules

Slots = tuple[Slot | None, ...]
PLENTY: dict[Cell, Slots] = {
    (0, 0, 4): (("clay", 9),), (0, 1, 3): (("charcoal", 9),),
    **{(x, 0, 1): (("clay", 5), ("charcoal", 5), None) for x in (1, 2, 3)},
}  # fmt: skip
"""A row hall in which nothing is wanting."""


def told(layout: Layout, holds: dict[Cell, Slots]) -> list[Stuck]:
    """What is said of a hall that holds this."""
    empty: dict[str, Slots] = {"bin": (None,) * 27, "node": (None,) * 5, "furnace": (None,) * 3}
    contents = {
        part.at: holds.get(part.at, empty[part.kind]) for part in layout.parts if isinstance(part, (Bin, Node, Furnace))
    }
    return list(stuck_in(Hall(layout, default_rules()), layout, contents))


def test_nothing_is_stuck_where_things_only_wait() -> None:
    waiting: dict[Cell, Slots] = {(1, 0, 2): (("clay", 64),) * 5, (3, 0, 3): (("clay", 64),) * 5}
    assert told(hall(ROW_HALL), {**PLENTY, **waiting}) == []


@pytest.mark.parametrize(
    ("cell", "slots", "what", "text"),
    [
        ((1, 0, 2), (("clay", 3), ("sand", 1)), "refused",
         "sand in the node at 1,0,2: the furnace at 1,0,1 does not fire it; take it out by hand; until then it takes "
         "up a slot there"),
        ((2, 0, 3), (("sand", 1),), "refused",
         "sand in the node at 2,0,3: nothing that it can come to has a use for it; take it out by hand; until then it "
         "takes up a slot there"),
        ((1, 1, 1), (("clay", 1),), "refused",
         "clay in the node at 1,1,1: the furnace at 1,0,1 does not burn it; take it out by hand; until then it takes "
         "up a slot there"),
        ((0, 0, 4), (("clay", 64), ("brick", 2)), "foreign item",
         "brick in the feed source at 0,0,4: take it out by hand; until then it goes in when its slot comes up"),
        ((0, 1, 3), (("charcoal", 64), ("clay", 2)), "foreign item",
         "clay in the fuel source at 0,1,3: take it out by hand; until then it goes in when its slot comes up"),
        ((3, 0, 1), (("brick", 1), ("charcoal", 5), None), "foreign feed",
         "brick in the feed slot of the furnace at 3,0,1: take it out by hand; until then that furnace fires nothing"),
        ((3, 0, 1), (("clay", 1), ("sand", 5), None), "foreign fuel",
         "sand in the fuel slot of the furnace at 3,0,1: take it out by hand; until then it lights no fire"),
        ((3, 0, 1), (("clay", 1), ("charcoal", 5), ("brick", 64)), "full of product",
         "64 brick fill the product slot of the furnace at 3,0,1: empty the bin at the end of its product line; until "
         "then it fires nothing"),
        ((4, 0, 0), (("brick", 64),) * 27, "full bin",
         "1728 brick fill the product bin at 4,0,0: empty it; until then its product lines fill up behind it"),
    ],
)  # fmt: skip
def test_told_with_the_cell_and_the_cure(cell: Cell, slots: Slots, what: str, text: str) -> None:
    (found,) = told(hall(ROW_HALL), {**PLENTY, cell: slots})
    assert (found.what, found.at, found.text) == (what, cell, text)


def test_a_bin_that_lacks_one_item_is_not_full() -> None:
    assert told(hall(ROW_HALL), {**PLENTY, (4, 0, 0): (("brick", 64),) * 26 + (("brick", 63),)}) == []


def test_a_furnace_with_no_node_below_is_told_another_cure() -> None:
    layout = hall(ROW_HALL)
    layout = replace(layout, parts=tuple(part for part in layout.parts if part.at != (3, 0, 0)))
    found = told(layout, {**PLENTY, (3, 0, 1): (("clay", 1), ("charcoal", 5), ("brick", 64))})
    assert "put a node below the furnace, or take it out by hand" in found[0].text


def test_a_dry_source_is_told_only_where_somebody_wants() -> None:
    dry: dict[Cell, Slots] = {**PLENTY, (0, 1, 3): (None,)}
    assert told(hall(ROW_HALL), dry) == []
    (found,) = told(hall(ROW_HALL), {**dry, (2, 0, 1): (("clay", 5), None, None)})
    assert found.text == "no charcoal in the fuel source at 0,1,3: put some in; until then there is no fuel in 2,0,1"
    assert (found.what, found.at) == ("no fuel", (0, 1, 3))


def test_a_gauge_that_reads_what_is_stuck_is_named() -> None:
    """Sand in the last node of a burst row: its gauge never reads empty again."""
    layout = locked_hall(3)
    found = [one for one in told(layout, {(3, 3, 3): (("sand", 1),)}) if one.what == "refused"]
    assert [one.at for one in found] == [(3, 3, 3)]
    assert found[0].text.endswith("until then it takes up a slot there; the gauge at 4,3,3 reads it")
