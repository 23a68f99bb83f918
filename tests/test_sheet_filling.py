"""What a sheet says of a layout that starts with contents: the last steps of its order, and what to fetch for them."""

from __future__ import annotations

from dataclasses import replace
from xml.etree.ElementTree import Element

import html5lib
import pytest

from building_table import BRIMMED
from sim.world.files.plan import layout_from_plan
from sim.world.layout import Layout
from sim.world.parts import Node
from splitwright.sheet.html import sheet_html
from splitwright.sheet.order import slots_in_short
from splitwright.sheet.parts_list import items_list
from splitwright.sheet.request import SheetRequest
from splitwright.words import english
from worlds import drawn


def section(layout: Layout, name: str) -> Element:
    text = sheet_html(layout, SheetRequest(limit_s=0))
    tree: Element = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)
    return next(element for element in tree.iter("section") if element.get("id") == name)


def words_of(element: Element) -> str:
    return " ".join("".join(element.itertext()).split())


@pytest.fixture(scope="module")
def brimmed() -> Layout:
    return layout_from_plan(BRIMMED)


def test_the_last_steps_fill_the_containers(brimmed: Layout) -> None:
    order = section(brimmed, "order")
    assert "Steps after that, which fill containers before the first load: 2." in words_of(order)
    last = list(order.iter("ol"))[-1]
    boxes = [box.get("data-step") for box in order.iter("input")]
    assert boxes == [str(number) for number in range(1, len(boxes) + 1)], "numbered on, each with a box to tick"
    assert [words_of(label[2]) for label in last.iter("label")] == [
        "Put into the node at 0,1,2, slot by slot: 4 × 64 clay, 63 clay.",
        "Put into the node at 0,0,2, slot by slot: 4 × 64 clay, 63 clay. "
        "Of this, so many moved on or were used up until all was at rest again: 1.",
    ]
    assert list(order.iter("h3"))[-1].text == "Fill"
    assert "nothing in the place of what has moved on" in words_of(order)


def test_what_is_filled_in_is_to_be_fetched_too(brimmed: Layout) -> None:
    """By hand: 2 nodes of 4 x 64 + 63, which is 638 = 9 x 64 + 62."""
    tables = list(section(brimmed, "parts-list").iter("table"))
    assert len(tables) == 2
    rows = [[words_of(cell) for cell in row] for row in tables[1].iter("tr")]
    assert rows == [["Item", "Number", "Stacks and singles"], ["clay", "638", "9 × 64 + 62"]]


def test_a_layout_that_starts_empty_has_nothing_to_fill(brimmed: Layout) -> None:
    empty = replace(brimmed, parts=tuple(replace(p, holds=()) if isinstance(p, Node) else p for p in brimmed.parts))
    assert len(list(section(empty, "parts-list").iter("table"))) == 1
    order = section(empty, "order")
    assert "fill containers" not in words_of(order)
    assert "Fill" not in [heading.text for heading in order.iter("h3")]


def test_parts_that_stay_add_up_and_temporary_ones_stand_below_the_total(brimmed: Layout) -> None:
    table = next(section(brimmed, "parts-list").iter("table"))
    counts = [int(words_of(row[1])) for row in next(table.iter("tbody"))]
    total, temporary = ([words_of(cell) for cell in row] for row in next(table.iter("tfoot")))
    assert total[:2] == ["Parts of the layout", str(sum(counts))]
    assert temporary[:2] == ["temporary supports", "2"]


def test_slots_in_short() -> None:
    clay, brick = ("clay", 64), ("brick", 1)
    words = english()
    assert slots_in_short((clay, clay, ("clay", 3), None, None, brick, None), words) == (
        "2 × 64 clay, 3 clay, 2 × nothing, 1 brick"
    )


def test_items_are_listed_in_stacks_of_their_own() -> None:
    layout = drawn("B nE", "item charcoal stack 16\nholds 0,0,0 charcoal 16 charcoal 4 sand 1\nholds 1,0,0 clay 64 1")
    listed = [(line.kind, line.count, line.stack, line.stacks, line.singles) for line in items_list(layout, 64)]
    assert listed == [("clay", 65, 64, 1, 1), ("charcoal", 20, 16, 1, 4), ("sand", 1, 64, 0, 1)]
