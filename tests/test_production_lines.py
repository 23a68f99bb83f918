"""Ways of items, product lines, the roles of streams, bounds; what is wrong with a product line."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from halls import BIN_HALL, ROW_HALL, hall, locked_hall
from sim.analysis.production.hall import Hall
from sim.analysis.production.lines import line_findings, product_lines, reached_from, ways_of
from sim.analysis.production.supply import inlets_of, refill_minutes
from sim.errors import InputError
from sim.world.files.plan import layout_from_plan
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Furnace
from sim.world.rulebook import default_rules

RULES = default_rules()
NODE_AN_HOUR = 3600 * 20 // 8
KILN_AN_HOUR = 3600 * 20 // 200


def changed(plan: str, old: str, new: str) -> Layout:
    assert old in plan
    return hall(plan.replace(old, new, 1))


def test_ways_of_the_row_hall() -> None:
    ways = ways_of(hall(ROW_HALL))
    assert ways[0, 0, 4] == ((0, 0, 3),)
    assert ways[1, 0, 3] == ((1, 0, 2), (2, 0, 3)), "the node below pulls, its own push goes on"
    assert ways[1, 0, 2] == ((1, 0, 1),)
    assert ways[1, 0, 1] == ((1, 0, 0),), "a furnace hands its product to the node below"
    assert ways[3, 0, 3] == ((3, 0, 2),), "the last one pushes into nothing"
    assert ways[4, 0, 0] == ()


def test_reached_stops_where_it_is_told() -> None:
    ways = ways_of(hall(ROW_HALL))
    assert (1, 0, 0) in reached_from(ways, [(0, 0, 4)])
    held = reached_from(ways, [(0, 0, 4)], [(1, 0, 1), (2, 0, 1), (3, 0, 1)])
    assert (1, 0, 1) in held
    assert (1, 0, 0) not in held


def test_one_line_into_one_bin() -> None:
    (line,) = product_lines(hall(ROW_HALL), RULES)
    assert line.furnaces == ((1, 0, 1), (2, 0, 1), (3, 0, 1))
    assert line.nodes == ((1, 0, 0), (2, 0, 0), (3, 0, 0))
    assert line.bins == ((4, 0, 0),)
    assert (line.rate, line.free_rate) == (3 * KILN_AN_HOUR, NODE_AN_HOUR)
    assert line.ends_text == "ends in the bin at 4,0,0"
    assert list(line_findings(hall(ROW_HALL), [line])) == []


def test_two_lines_where_nothing_is_shared() -> None:
    lines = product_lines(locked_hall(3, 2), RULES)
    assert [(len(line.furnaces), line.bins) for line in lines] == [(3, ((4, 3, 0),)), (3, ((4, 10, 0),))]


def test_a_line_that_is_the_bottleneck() -> None:
    """At one item in 160 ticks a node passes 450 an hour; three kilns make 1,080."""
    (line,) = product_lines(hall(ROW_HALL, period=160), RULES)
    assert line.rate == line.free_rate == 450
    bounds = {one.what: one.per_hour for one in Hall(hall(ROW_HALL, period=160), RULES).bounds}
    assert bounds == {"furnaces": 1080, "feed rows": 450, "fuel rows": 1080, "product lines": 450}


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        ("nE nE nE B\n", "nE nE nE .\n", "leads nowhere: the node at 3,0,0 pushes into the empty cell 4,0,0"),
        ("nE nE nE B\n", "nE nE nE #\n", "leads nowhere: the node at 3,0,0 pushes into the support at 4,0,0"),
        ("nE nE nE B\n", "nE .  nE B\n", "the furnace at 2,0,1 has no node below it: its product stays inside"),
        ("nE nE nE B\n", "nE nE nE F\n", "the product line pushes into the furnace at 4,0,0; lead it round to a bin"),
        ("nE nE nE B\n", "nE nE nW B\n", "the product line of the furnace at 1,0,1 goes round in a circle"),
    ],
)
def test_a_line_that_leads_nowhere_is_a_finding(old: str, new: str, text: str) -> None:
    layout = changed(ROW_HALL, old, new)
    found = [one.text for one in line_findings(layout, product_lines(layout, RULES))]
    assert any(text in one for one in found), found
    assert set(found) <= set(Hall(layout, RULES).findings)


def test_a_branch_is_followed_both_ways() -> None:
    """A node below a product node pulls part of it off, into a bin of its own."""
    layout = layout_from_plan(
        "splitwright-plan/1\ntitle Branch\nitem clay fires-to brick\nstream feed clay from 0,0,4 to 0,0,2\n"
        "layer 0\nnE B\nlayer 1\nnE B*\nlayer 2\nF .\nlayer 3\nnD .\nlayer 4\nB .\n"
    )
    (line,) = product_lines(layout, RULES)
    assert set(line.bins) == {(1, 0, 1), (1, 0, 0)}
    assert line.nodes == ((0, 0, 1), (0, 0, 0))


def test_roles_are_told_by_the_face_that_nodes_push_into() -> None:
    assert [(one.stream.name, one.role) for one in inlets_of(hall(ROW_HALL))] == [("feed", "feed"), ("fuel", "fuel")]
    roles = [one.role for one in inlets_of(hall(BIN_HALL))]
    assert roles == ["feed", "feed", "fuel", "fuel"]
    stray = changed(ROW_HALL, ".  nD nD nD .", ".  .  .  .  .")
    assert [one.role for one in inlets_of(stray)] == ["other", "fuel"]
    assert "no feed stream names the furnace at 1,0,1; add it to the outputs of one" in Hall(stray, RULES).findings


@pytest.mark.parametrize(
    ("rules", "minutes"),
    [
        ({}, 11),  # 27 x 64 items, one in 8 ticks: 13,824 ticks are 11.52 minutes
        ({"period": 16}, 23),  # 27,648 ticks are 23.04 minutes
        ({"bin_slots": 2}, 1),  # 1,024 ticks are less than one
    ],
)
def test_visits_come_before_a_bin_runs_dry(rules: dict[str, int], minutes: int) -> None:
    assert refill_minutes(hall(ROW_HALL, **rules), RULES) == minutes


def test_no_hall() -> None:
    layout = hall(ROW_HALL)
    with pytest.raises(InputError, match="there is no stream to be supplied"):
        Hall(replace(layout, streams=()), RULES)
    bare = tuple(part for part in layout.parts if not isinstance(part, Furnace))
    with pytest.raises(InputError, match="there is no furnace"):
        Hall(replace(layout, parts=bare), RULES)
    with pytest.raises(InputError, match="no furnace stands at 0,0,0; furnaces are at 1,0,1"):
        Hall(layout, RULES, (0, 0, 0))


def test_the_middle_furnace_goes() -> None:
    assert Hall(hall(ROW_HALL), RULES).gone == (2, 0, 1)
    assert Hall(hall(ROW_HALL), RULES, (3, 0, 1)).gone == (3, 0, 1)


def test_cells_are_in_the_order_of_the_layout() -> None:
    cells: list[Cell] = list(Hall(locked_hall(2, 3), RULES).furnaces)
    assert cells == [(1, 3, 1), (2, 3, 1), (1, 10, 1), (2, 10, 1), (1, 17, 1), (2, 17, 1)]
    assert Hall(locked_hall(2, 3), RULES).bounds[0].per_hour == Fraction(6 * KILN_AN_HOUR)
