"""A sheet is enough to build from: the layout is made again from nothing but the text of a sheet, in two ways."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from xml.etree.ElementTree import Element

import html5lib
import pytest

from building_table import BRIMMED
from commands import LAYOUTS
from hall_plans import HALL
from sim.world.files.plan import layout_from_plan
from sim.world.files.plan_cells import CODES
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, Direction
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Gauge, Holds, Inverter, Line, Node, Part, Relay, Slot, Support
from splitwright.sheet.html import sheet_html
from splitwright.sheet.request import SheetRequest
from splitwright.words import english

SVG = "{http://www.w3.org/2000/svg}"
PLANS = sorted(LAYOUTS.glob("*.plan"))
SMALLEST = sorted((LAYOUTS.parent / "results").glob("**/*.plan"))
WAYS: dict[str, Direction] = {english().direction(way): way for way in ("E", "W", "N", "S", "U", "D")}
WAY = "|".join(WAYS)
AT = r"(?P<kind>\w+) at (?P<cell>[-\d]+,[-\d]+,[-\d]+)"
STEP = re.compile(
    rf"(?P<verb>Place the|Place a temporary|Take the temporary) {AT}(?:, (?P<finish>marked))?"
    rf"(?: with its out(?:let|put)(?: to the)? (?P<way>{WAY})(?:, delay (?P<delay>\d)|; it reads the .* behind it"
    rf"|; behind it is the .*, where it reads nothing)?)?"
    rf"(?:, fixed to what is (?P<mount>{WAY}) of it)?(?: away again)?\."
)
FILL = re.compile(rf"Put into the {AT}, slot by slot: (?P<slots>[^.]*)\.")
SLOT = re.compile(r"(?:(?P<times>\d+) × )?(?:(?P<count>\d+) (?P<item>\w+)|nothing)")


def sheet_of(layout: Layout) -> Element:
    tree: Element = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(
        sheet_html(layout, SheetRequest(limit_s=0))
    )
    return tree


def section(tree: Element, name: str) -> Element:
    return next(element for element in tree.iter("section") if element.get("id") == name)


def cell_of(step: re.Match[str]) -> Cell:
    x, y, z = map(int, step["cell"].split(","))
    return x, y, z


def part_of(step: re.Match[str]) -> Part:
    cell = cell_of(step)
    match step["kind"]:
        case "bin":
            return Bin(cell, "marked" if step["finish"] else "plain")
        case "node":
            return Node(cell, WAYS[step["way"]])
        case "furnace":
            return Furnace(cell)
        case "support":
            return Support(cell)
        case "line":
            return Line(cell)
        case "inverter":
            return Inverter(cell, WAYS[step["mount"]])
        case "relay":
            return Relay(cell, WAYS[step["way"]], int(step["delay"]))
        case "gauge":
            return Gauge(cell, WAYS[step["way"]])
    raise AssertionError(step[0])


def holds_of(fill: re.Match[str]) -> Holds:
    slots: list[Slot | None] = []
    for text in fill["slots"].split(", "):
        slot = SLOT.fullmatch(text)
        assert slot is not None, text
        slots += [(slot["item"], int(slot["count"])) if slot["item"] else None] * int(slot["times"] or 1)
    return tuple(slots)


def name_of(plan: Path | str) -> str:
    return plan.stem if isinstance(plan, Path) else "hall" if plan == HALL else "brimmed"


@pytest.fixture(scope="module", params=[*PLANS, *SMALLEST, HALL, BRIMMED], ids=name_of)
def pair(request: pytest.FixtureRequest) -> tuple[Layout, Element]:
    layout = layout_from_plan(request.param) if isinstance(request.param, str) else load_layout(request.param)
    return layout, sheet_of(layout)


def test_the_steps_alone_give_the_layout(pair: tuple[Layout, Element]) -> None:
    layout, tree = pair
    built: dict[Cell, Part] = {}
    for label in section(tree, "order").iter("label"):
        text = " ".join("".join(label[2].itertext()).split())
        if fill := FILL.match(text):
            empty = built[cell_of(fill)]
            assert isinstance(empty, (Bin, Node, Furnace))
            assert (empty.kind, empty.holds) == (fill["kind"], ())
            built[empty.at] = replace(empty, holds=holds_of(fill))
            continue
        step = STEP.match(text)
        assert step is not None, text
        part = part_of(step)
        if step["verb"] == "Take the temporary":
            assert built.pop(part.at) == part
        else:
            assert part.at not in built
            built[part.at] = part
    assert set(built.values()) == set(layout.parts)


def test_the_plans_alone_give_the_layout(pair: tuple[Layout, Element]) -> None:
    """The codes where they are drawn; column and row are the numbers that stand above and beside them."""
    layout, tree = pair
    parts: dict[Cell, Part] = {}
    for z, figure in enumerate(section(tree, "plans").iter("figure")):
        columns, rows = numbers_beside(figure)
        for group in figure.iter(f"{SVG}g"):
            code = next((child.text for child in group if child.get("class") == "code"), None)
            if code is not None:
                x, y = map(float, re.findall(r"[-\d.]+", group.get("transform") or ""))
                cell = (columns[x], rows[y], z)
                assert cell not in parts
                parts[cell] = CODES[code]
    assert {(cell, type(model), form_of(model)) for cell, model in parts.items()} == {
        (part.at, type(part), form_of(part)) for part in layout.parts
    }


def numbers_beside(figure: Element) -> tuple[dict[float, int], dict[float, int]]:
    """The columns by the place of the numbers above them, the rows by that of the numbers to their left."""
    coordinates = next(group for group in figure.iter(f"{SVG}g") if group.get("class") == "coordinates")
    texts = [(float(text.get("x") or 0), float(text.get("y") or 0), int(text.text or 0)) for text in coordinates]
    top, left = min(y for _, y, _ in texts), min(x for x, _, _ in texts)
    half_a_letter = next(y for x, y, number in texts if x == left and number == 0) % 20
    columns = {x: number for x, y, number in texts if y == top}
    return columns, {y - half_a_letter: number for x, y, number in texts if x == left}


def form_of(part: Part) -> tuple[object, ...]:
    names = ("outlet", "mount", "output", "delay", "finish")
    return tuple(getattr(part, name, None) for name in names)
