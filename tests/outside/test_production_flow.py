"""The most that product lines pass: against the largest flow by OR-Tools, and the rate when they are saturated.

A node passes one item a period: in OR-Tools (``SimpleMaxFlow``, push-relabel; ours is networkx's) a pair of vertices
with an arc of that capacity. The graph is read off the layout here once more.
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest
from ortools.graph.python.max_flow import SimpleMaxFlow

from sim.analysis.production.floor import Floor
from sim.analysis.production.lines import product_lines
from sim.world.geometry import Cell, Direction, step
from sim.world.kernel.tables import Tables
from sim.world.layout import ItemKind, Layout
from sim.world.parts import Bin, Furnace, Node, Part
from sim.world.rulebook import default_rules

RULES = default_rules()
TICKS_AN_HOUR = 3600 * RULES.ticks_per_second
PERIOD, FIRING = RULES.period, RULES.firing


def most_flow(layout: Layout, *, free: bool) -> Fraction:
    """Items an hour into the bins; capacities in items of period x firing ticks."""
    flow, numbers = SimpleMaxFlow(), dict[object, int]()
    unlimited = FIRING * len(layout.parts)

    def arc(tail: object, head: object, capacity: int = unlimited) -> None:
        flow.add_arc_with_capacity(*(numbers.setdefault(one, len(numbers)) for one in (tail, head)), capacity)

    for part in layout.parts:
        if isinstance(part, Furnace):
            arc("fired", (part.at, "made"), unlimited if free else PERIOD)
            if isinstance(layout.by_cell.get(step(part.at, "D")), Node):
                arc((part.at, "made"), (step(part.at, "D"), "in"))
        if isinstance(part, Node):
            arc((part.at, "in"), (part.at, "out"), FIRING)
            if isinstance(layout.by_cell.get(step(part.at, "D")), Node):
                arc((part.at, "out"), (step(part.at, "D"), "in"))
            target = layout.by_cell.get(step(part.at, part.outlet))
            if isinstance(target, Node):
                arc((part.at, "out"), (target.at, "in"))
            if isinstance(target, Bin):
                arc((part.at, "out"), "kept")
    if "kept" not in numbers:
        return Fraction(0)
    assert flow.solve(numbers["fired"], numbers["kept"]) == flow.OPTIMAL
    return Fraction(flow.optimal_flow() * TICKS_AN_HOUR, PERIOD * FIRING)


def built(parts: list[Part]) -> Layout:
    cells = [part.at for part in parts]
    size = (max(x for x, _, _ in cells) + 1, max(y for _, y, _ in cells) + 1, max(z for _, _, z in cells) + 1)
    return Layout("lines", size, {"clay": ItemKind(fires_to="brick")}, tuple(parts))


def row(furnaces: int, nodes: int) -> Layout:
    """Kilns over the first nodes of a row that ends in a bin."""
    parts: list[Part] = [Furnace((x, 0, 1)) for x in range(furnaces)]
    return built([*parts, *(Node((x, 0, 0), "E") for x in range(nodes)), Bin((nodes, 0, 0))])


def two_rows_into_one() -> Layout:
    """Two rows of three that meet in one node before the bin."""
    rows: list[Part] = [Furnace((x, y, 1)) for y in (0, 2) for x in range(3)]
    rows += [Node((x, y, 0), "E") for y in (0, 2) for x in range(3)]
    meeting: list[Part] = [Node((3, 0, 0), "N"), Node((3, 2, 0), "S"), Node((3, 1, 0), "E"), Bin((4, 1, 0))]
    return built([*rows, *meeting])


def two_rows_into_one_bin() -> Layout:
    """The same, but both reach the bin."""
    rows: list[Part] = [Furnace((x, y, 1)) for y in (0, 2) for x in range(3)]
    rows += [Node((x, y, 0), "E") for y in (0, 2) for x in range(3)]
    return built([*rows, Node((3, 0, 0), "N"), Node((3, 2, 0), "S"), Bin((3, 1, 0))])


def branch() -> Layout:
    """A row with a node below it that draws off part, into a bin of its own."""
    parts: list[Part] = [Furnace((0, 0, 2)), Furnace((1, 0, 2)), Node((0, 0, 1), "E"), Node((1, 0, 1), "E")]
    return built([*parts, Bin((2, 0, 1)), Node((1, 0, 0), "E"), Bin((2, 0, 0), "marked")])


SHAPES = {
    "one kiln": row(1, 1),
    "a row of eight": row(8, 8),
    "a row of forty, more than it can carry": row(40, 40),
    "a long way": row(2, 12),
    "two rows into one node": two_rows_into_one(),
    "two rows into one bin": two_rows_into_one_bin(),
    "a branch": branch(),
    "nowhere": built([Furnace((0, 0, 1)), Node((0, 0, 0), "E")]),
}


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("free", [False, True])
def test_the_rate_of_the_lines_is_the_largest_flow(shape: str, free: bool) -> None:
    layout = SHAPES[shape]
    ours = sum((line.free_rate if free else line.rate for line in product_lines(layout, RULES)), Fraction(0))
    assert ours == most_flow(layout, free=free)


@pytest.mark.parametrize("seed", range(60))
def test_random_lines(seed: int) -> None:
    """Two floors of nodes with outlets at random, kilns over some of them, bins here and there."""
    rng = random.Random(seed)
    outlets: tuple[Direction, ...] = ("E", "W", "N", "S", "D")
    parts: list[Part] = []
    for x in range(4):
        for y in range(3):
            if rng.random() < 0.6:
                parts.append(Furnace((x, y, 2)))
            for z in (0, 1):
                draw = rng.random()
                if draw < 0.7:
                    parts.append(Node((x, y, z), rng.choice(outlets)))
                elif draw < 0.85:
                    parts.append(Bin((x, y, z)))
    layout = built([*parts, Furnace((4, 3, 2))])
    under = [part for part in parts if isinstance(part, Bin) and _drawn_off(layout, part.at)]
    layout = replace(layout, parts=tuple(part for part in layout.parts if part not in under))
    for free in (False, True):
        ours = sum((line.free_rate if free else line.rate for line in product_lines(layout, RULES)), Fraction(0))
        assert ours == most_flow(layout, free=free)


def _drawn_off(layout: Layout, cell: Cell) -> bool:
    """A node below takes the bin's items on: the model above knows bins as ends only."""
    return isinstance(layout.by_cell.get(step(cell, "D")), Node)


@pytest.mark.parametrize("shape", SHAPES)
def test_saturated_lines_reach_the_flow_and_never_pass_it(shape: str) -> None:
    """Bins full of bricks in the kilns' places are never empty: what comes to the end bins is the line at its most."""
    layout = SHAPES[shape]
    full = ((("brick", 64),) * 27)
    parts = tuple(Bin(part.at, "plain", full) if isinstance(part, Furnace) else part for part in layout.parts)
    floor = Floor(Tables(replace(layout, parts=parts)))
    ends = [part.at for part in layout.parts if isinstance(part, Bin)]
    warm, measured = 100 * PERIOD, 400 * PERIOD
    floor.advance_to(warm)
    before = floor.sample()
    floor.advance_to(warm + measured)
    came = sum(floor.sample().came[cell] - before.came[cell] for cell in ends)
    assert Fraction(came * TICKS_AN_HOUR, measured) == most_flow(layout, free=True)
