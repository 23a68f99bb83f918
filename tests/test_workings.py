"""How a layout works, in words: what is said of known layouts, the way of the items, and the phrases."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import pytest

from halls import ROW_HALL, hall, locked_hall
from outside.wirings import wiring_without_loops
from sim.analysis.workings import workings
from sim.analysis.workings.circuit import circuit_of
from sim.analysis.workings.logic import LockGroup, logic_statements
from sim.world.geometry import Cell
from sim.world.items.store import Store
from sim.world.layout import Layout
from sim.world.parts import Slot
from sim.world.rulebook import default_rules
from sim.world.statement import Mention, Statement
from sim.world.trial import DEFAULT_LOAD_PER_TARGET
from sim.world.world import World
from splitwright.words import english
from splitwright.words.catalogue import catalogue
from splitwright.words.labels import fields_of
from test_workings_truth import LAYOUTS, cells_of, name_of, plan

BRANCH = """splitwright-plan/1
item clay
stream feed clay from 0,0,3 to 1,0,0
layer 0
.  F
layer 1
.  nD
layer 2
nE nE
layer 3
B  .
"""
SHARED = """splitwright-plan/1
item clay
stream feed clay from 0,0,2 to 1,0,0
layer 0
nE B  nW
layer 1
nE nE nE
layer 2
B  .  .
"""
RING = """splitwright-plan/1
item clay
stream feed clay from 0,1,1 to 1,0,0
layer 0
nE nS
nN nW
layer 1
B  .
.  .
"""
REFUSED = """splitwright-plan/1
item clay
stream feed clay from 0,0,1 to 1,0,0
layer 0
nE F
layer 1
B  .
"""
KEPT = """splitwright-plan/1
item clay fires-to brick
item charcoal burn 1600
stream feed clay from 0,0,2 to 0,0,0
stream fuel charcoal from 1,0,1 to 0,0,0
layer 0
F  nW
layer 1
nD B*
layer 2
B  .
"""
PRODUCT_RING = """splitwright-plan/1
item clay fires-to brick
layer 0
nE nW
layer 1
F  .
"""
IDLE = """splitwright-plan/1
item clay
stream feed clay from 0,0,0 to 2,0,0
layer 0
B  .  B
"""
ITEM_PLANS = {
    "branch": BRANCH, "shared": SHARED, "ring": RING, "refused": REFUSED, "kept": KEPT, "product ring": PRODUCT_RING,
    "idle": IDLE, "row hall": ROW_HALL,
}  # fmt: skip
WHOLE = ("branch", "kept", "burst-row-of-three", "burst-row-of-five", "three-kilns-smallest", "muster")
"""Layouts in which every way that is told is taken by a default load."""


def layout_named(name: str) -> Layout:
    return plan(ITEM_PLANS[name]) if name in ITEM_PLANS else LAYOUTS[name]()


def said(layout: Layout, topic: str) -> list[str]:
    return [english().text(one) for found in workings(layout) if found.key == topic for one in found.statements]


def every_statement() -> Iterator[Statement]:
    for name in (*LAYOUTS, *ITEM_PLANS):
        yield from (one for topic in workings(layout_named(name)) for one in topic.statements)
    for seed in range(25):
        yield from (one for topic in workings(wiring_without_loops(seed)) for one in topic.statements)
    circuit = circuit_of(LAYOUTS["part full"](), default_rules())
    between, from_on = ((0, 0, 0), (3, 5)), ((0, 0, 0), (6, 15))
    for conditions in (((between,),), ((between, from_on),)):
        yield from logic_statements(circuit, [LockGroup((0,), ((0, 0, 0),), None, None, conditions, conditions)])


# -- known layouts, by hand -------------------------------------------------------------------------------------------


def test_the_burst_row_of_three_by_hand() -> None:
    """Worked out by hand from specs/layouts/burst-row-of-three.plan and its comments."""
    layout = LAYOUTS["burst-row-of-three"]()
    assert [topic.key for topic in workings(layout)] == ["items", "gauges", "wires", "locks", "logic", "timing"]
    nodes = "nodes at 1,1,1; 2,1,1 and 3,1,1"
    assert said(layout, "logic")[1:] == [
        f"Signals lock the {nodes} while there is something in the node at 0,1,2 and nothing in the node at 3,1,2.",
        f"The drain: as soon as there is nothing in the node at 0,1,2, signals unlock the {nodes}, so that the last "
        "items leave.",
        f"Signals unlock the {nodes} as soon as there is something in the node at 3,1,2.",
    ]
    assert said(layout, "timing")[:2] == [  # gauge 2, inverter 2, inverter 2; gauge 2, inverter 2
        f"From a change in the node at 0,1,2, read by the gauge at 0,2,2, signals take 6 ticks to the {nodes}.",
        f"From a change in the node at 3,1,2, read by the gauge at 4,1,2, signals take 4 ticks to the {nodes}.",
    ]
    assert said(layout, "locks") == [
        "Signals in the lines at 4,0,1; 5,0,1; 1,0,2; 2,0,2 and 3,0,2 energise the supports at 1,0,1; 2,0,1 and 3,0,1, "
        f"and so lock the {nodes}.",
        "Nothing can lock the nodes at 0,1,2; 1,1,2; 2,1,2 and 3,1,2.",
    ]
    assert said(layout, "gauges") == [
        "The gauge at 0,2,2 reads the node at 0,1,2.",
        "It is on as soon as the node at 0,1,2 holds an item, and off when that is empty.",
        "The gauge at 4,1,2 reads the node at 3,1,2.",
        "It is on as soon as the node at 3,1,2 holds an item, and off when that is empty.",
    ]
    assert said(layout, "items")[:3] == [
        "Stream feed: clay waits in the bin at 0,1,3, and the node at 0,1,2 below pulls it out.",
        "From the node at 0,1,2 it is pushed on to the nodes at 1,1,2; 2,1,2 and 3,1,2, in this order.",
        "The row ends at the node at 3,1,2: its outlet leads into no container.",
    ]


def test_a_row_without_a_drain_has_none() -> None:
    assert not [text for text in said(LAYOUTS["row-of-three-no-drain"](), "logic") if "drain" in text]


def test_a_gauge_that_passes_full_readings_only() -> None:
    assert said(LAYOUTS["brimmed"](), "gauges") == [
        "The gauge at 2,0,2 reads the node at 0,0,2 through the support at 1,0,2.",
        "It passes only a full reading of the node at 0,0,2: a side input of 15 from the line at 2,1,2 holds back "
        "anything less.",
    ]


def test_each_node_of_a_muster_row_has_its_own_condition() -> None:
    both = [
        f"Signals lock the node at {own} while there is something in the node at {own} and nothing in the node at "
        "0,2,1."
        for own in ("0,1,1", "0,0,1")
    ]
    assert [text for text in said(LAYOUTS["muster"](), "logic") if " lock " in text] == both


def test_period_and_handover_are_those_in_force() -> None:
    layout = hall(ROW_HALL, period=6, handover=5)
    ticks = {name_of(one): one.values for topic in workings(layout) for one in topic.statements}
    assert (ticks["period"]["period"], ticks["handover"]["handover"]) == (6, 5)
    slow = default_rules().with_overrides({"period": 11})
    told = workings(LAYOUTS["runs-apart"](), slow)[-1].statements
    assert [one.values["period"] for one in told if name_of(one) == "period"] == [11]


def test_a_node_waits_as_many_ticks_as_is_said() -> None:
    """In a locked row: T0 pulls without end, and the first item is pushed into one empty node after the other."""
    layout = replace(LAYOUTS["row-of-three-locked"](), rules={"period": 9, "handover": 6})
    told = {name_of(one): one.values for topic in workings(layout) for one in topic.statements}
    seen = moves_in(layout, 80)[0]["clay"]
    pulls = [tick for tick, source, target in seen if source == (0, 1, 3)]
    assert {later - tick for tick, later in pairwise(pulls)} == {told["period"]["period"]}
    pushed = [next(tick for tick, _, target in seen if target == (x, 1, 2)) for x in (1, 2, 3)]
    assert {later - tick for tick, later in pairwise(pushed)} == {told["handover"]["handover"]}


def test_what_loops_or_is_latched_is_not_guessed() -> None:
    for name in ("loop", "latched"):
        texts = said(LAYOUTS[name](), "logic")
        assert len(texts) == 2
        assert "more than can be told here" in texts[1]
    assert "in more ways than can be told here" in said(LAYOUTS["bench hhhhhhh"](), "logic")[1]


def test_a_hall_of_four_rows_is_told_row_by_row() -> None:
    """A row's condition takes three sentences, however many kilns it has, and knows no gauge of another row."""
    layout = locked_hall(8, 4)
    logic = next(topic for topic in workings(layout) if topic.key == "logic").statements
    names = [name_of(one) for one in logic]
    assert names == ["logic_settled", *["lock_empty_holding", "drain", "unlock_holding"] * 4]
    for row, stream in enumerate(stream for stream in layout.streams if len(stream.outputs) == 8):
        lock, drain, unlock = logic[1 + 3 * row : 4 + 3 * row]
        head = (stream.source[0], stream.source[1], stream.source[2] - 1)
        assert cells_of(lock, "holding") == cells_of(drain, "head") == [head]
        assert cells_of(lock, "empty") == cells_of(unlock, "holding")
        assert len(cells_of(lock, "nodes")) == 8


# -- the way of the items ---------------------------------------------------------------------------------------------


Move = tuple[int, Cell, Cell]
"""Tick, from, to."""


class Moves:
    """What nodes moved, by kind."""

    def __init__(self) -> None:
        self.seen: dict[str, list[Move]] = {}

    def put(self, tick: int, kind: str, count: int, target: Cell) -> None:
        pass

    def moved(self, tick: int, kind: str, source: Cell, target: Cell) -> None:
        self.seen.setdefault(kind, []).append((tick, source, target))

    def worked(self, tick: int, furnace: Cell, before: tuple[Slot | None, ...]) -> None:
        pass


def told_moves(layout: Layout) -> dict[str, set[tuple[Cell, Cell]]]:
    """Moves that the sentences speak of, by the item kind of their stream ("" : products)."""
    found: dict[str, set[tuple[Cell, Cell]]] = {stream.item: set() for stream in layout.streams}
    names = {stream.name: stream.item for stream in layout.streams}
    kind = ""
    for one in workings(layout)[0].statements:
        cells = {name: cells_of(one, name) for name in one.values}
        match name_of(one):
            case "source":
                kind = names[str(one.values["stream"])]
                pairs = [(cells["source"][0], cells["node"][0])]
            case "row" | "row_of_two":
                pairs = list(pairwise([*cells["first"], *cells["nodes"]]))
            case "row_into" | "row_ring":
                pairs = [(cells["last"][0], cells["target"][0])]
            case "branch" | "branches":
                pairs = list(zip(cells["from"], cells["nodes"], strict=True))
            case "output" | "outputs":
                pairs = list(zip(cells["nodes"], cells["outputs"], strict=True))
            case "output_shared":
                pairs = [(node, cells["output"][0]) for node in cells["nodes"]]
            case _:
                continue
        found[kind].update(pairs)
    return found


def moves_in(
    layout: Layout, ticks: int = 3000, load: int = DEFAULT_LOAD_PER_TARGET
) -> tuple[dict[str, list[Move]], World]:
    """What is moved, by kind, once each stream's load is put in; and the world afterwards."""
    world, moves = World(layout), Moves()
    world.witness = moves
    for stream in layout.streams:
        world.put([(stream.source, stream.item, load * len(stream.outputs))])
    for _ in range(ticks):
        world.advance()
    return moves.seen, world


def seen_moves(layout: Layout) -> dict[str, set[tuple[Cell, Cell]]]:
    return {kind: {(source, target) for _, source, target in seen} for kind, seen in moves_in(layout)[0].items()}


@pytest.mark.parametrize("name", [*(n for n in LAYOUTS if not n.startswith("bench")), *ITEM_PLANS])
def test_items_go_no_way_that_is_not_told(name: str) -> None:
    layout = layout_named(name)
    told, seen = told_moves(layout), seen_moves(layout)
    for stream in layout.streams:
        assert seen.get(stream.item, set()) <= told[stream.item]
    if name in WHOLE:
        assert {kind: pairs for kind, pairs in seen.items() if kind in told} == told
    for one in workings(layout)[0].statements:
        if name_of(one) == "output_idle":
            ends = set(cells_of(one, "outputs"))
            assert not [move for pairs in seen.values() for move in pairs if move[1] in ends]
        if name_of(one) == "source_idle":
            assert not [move for pairs in seen.values() for move in pairs if move[0] in cells_of(one, "source")]
        if name_of(one) in ("row_end", "row_refused"):
            last = cells_of(one, "last")[0]
            below = (last[0], last[1], last[2] - 1)
            assert {end for pairs in seen.values() for start, end in pairs if start == last} <= {below}


def test_products_leave_by_the_nodes_below_and_end_in_the_bins_that_are_told() -> None:
    layout = LAYOUTS["kiln-gives-products-only"]()
    seen, world = moves_in(layout, load=8)
    told = {name_of(one): one for one in workings(layout)[0].statements}
    pairs = set(zip(cells_of(told["product"], "furnaces"), cells_of(told["product"], "nodes"), strict=True))
    assert pairs == {(source, target) for _, source, target in seen["brick"] if source == (0, 0, 2)}
    assert [world.stores[cell].count("brick") for cell in cells_of(told["product_end"], "ends")] == [8]
    assert cells_of(told["enters_above"], "furnaces") == cells_of(told["enters_side"], "furnaces") == [(0, 0, 2)]


def test_a_named_reading_takes_just_so_many_items() -> None:
    layout = LAYOUTS["part full"]()
    (means,) = (one for one in workings(layout)[4].statements if name_of(one) == "reading_means")
    count, level = means.values["count"], means.values["level"]
    assert isinstance(count, int)
    world = World(layout)
    (cell,) = cells_of(means, "container")
    store: Store = world.stores[cell]
    readings = []
    for _ in range(count):
        store.put("clay")
        readings.append(world.reading(cell))
    assert readings[-1] == level
    assert readings[-2] < level


# -- phrases ----------------------------------------------------------------------------------------------------------


def test_every_phrase_is_said_with_just_its_fields() -> None:
    phrases, seen = catalogue("en"), set()
    for one in every_statement():
        assert fields_of(phrases[one.key]) == set(one.values), one.key
        assert one.cells or not any(isinstance(value, (Mention, tuple)) for value in one.values.values())
        seen.add(one.key)
    titles = {f"workings.title_{topic.key}" for topic in workings(LAYOUTS["loop"]())}
    assert {key for key in phrases if key.startswith("workings.")} == seen | titles


def test_no_list_of_mentions_is_empty() -> None:
    for one in every_statement():
        assert () not in one.values.values(), one
