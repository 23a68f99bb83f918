"""Whole-hall trials: each incident, what is stuck, the account by kind, idle shares, shares of fuel."""

from __future__ import annotations

import threading
from dataclasses import replace
from functools import cache

import pytest

from halls import BIN_HALL, ROW_HALL, hall, locked_hall
from sim.analysis.production.incidents import INCIDENTS
from sim.analysis.production.report import IncidentReport
from sim.analysis.production.run import checkpoints, incidents_named, production_run, steady_output
from sim.errors import InputError
from sim.world.fairness import jain_index
from sim.world.geometry import Cell
from sim.world.layout import ItemKind, Layout
from sim.world.rulebook import default_rules

LOCKED = locked_hall(3)
KILNS: tuple[Cell, ...] = ((1, 3, 1), (2, 3, 1), (3, 3, 1))
EVERY = ["steady", "fires-out", "fuel-short", "full-bin", "furnace-gone", "foreign-item-feed", "foreign-item-fuel"]


@cache
def locked_reports() -> dict[str, IncidentReport]:
    """Two hours of the locked hall, every incident."""
    return {one.name: one for one in production_run(LOCKED, hours=2.0)}


def only(layout: Layout, name: str, hours: float = 0.5, **more: int | Cell) -> IncidentReport:
    (report,) = production_run(layout, None, hours, (name,), **more)  # type: ignore[arg-type]
    return report


@pytest.mark.parametrize("name", EVERY)
def test_a_good_hall_gets_through_every_incident(name: str) -> None:
    report = locked_reports()[name]
    assert report.passed, [one for one in report.expectations if not one.met]
    assert report.ticks == 144_000
    assert all(one.lost == 0 for one in report.balance)


@pytest.mark.parametrize("name", EVERY)
def test_the_account_of_each_kind_closes_from_both_sides(name: str) -> None:
    """Clay in = clay left + bricks made; charcoal in = charcoal left + fires lit; and the furnaces say the same."""
    report = locked_reports()[name]
    clay, coal, brick = ({one.kind: one for one in report.balance}[kind] for kind in ("clay", "charcoal", "brick"))
    assert clay.put_in == clay.inside + clay.taken_out + brick.made
    assert coal.put_in == coal.inside + coal.taken_out + report.lit
    assert brick.put_in + brick.made == brick.inside + brick.taken_out
    assert brick.made == clay.fired == sum(one.fired for one in report.furnaces)
    assert coal.burnt == sum(one.lit for one in report.furnaces)


def test_steady() -> None:
    report = locked_reports()["steady"]
    assert report.output == report.bound.per_hour == 1080
    assert report.stuck == report.starved == ()
    assert report.spread <= 1
    assert report.jain == jain_index(report.shares)
    for one in report.furnaces:
        assert one.after.idle == 0
        assert one.whole.ticks == 144_000
        assert one.fired == (144_000 - one.whole.idle) // 200
        assert one.fuel_left == 64
    feed = report.streams[0]
    assert (feed.role, feed.spread) == ("feed", max(feed.delivered) - min(feed.delivered))


def test_steady_output_is_the_output_of_the_steady_run() -> None:
    assert steady_output(LOCKED, default_rules(), 0.5) == 1080


def test_fires_go_out_and_come_again() -> None:
    report = locked_reports()["fires-out"]
    out, back = report.events
    assert (out.text, back.text) == ("all fires are out", "fuel comes again")
    assert back.tick - out.tick == 144_000 // 24
    for one in report.furnaces:
        assert back.tick - out.tick <= one.whole.no_fuel <= back.tick - out.tick + 1200, "noticed at the minute"
        assert one.longest == max(one.longest, one.after.no_fuel)
        assert one.after.no_feed == one.after.full == one.after.blocked == 0
    first = 144_000 // 4 // 1600 * 8
    assert all(one.fired > first for one in report.furnaces)


def test_half_the_fuel_makes_half_the_product() -> None:
    """By hand: 45 charcoal a kiln burn 45 x 1,600 ticks, 8 bricks each: 360 a kiln in 144,000 ticks."""
    report = locked_reports()["fuel-short"]
    assert [one.fired for one in report.furnaces] == [360] * 3
    assert [one.lit for one in report.furnaces] == [45] * 3
    assert report.fuel_left == 0
    assert report.spread == 0
    assert [one.what for one in report.stuck] == ["no fuel"] * 3
    assert report.stuck[0].text == (
        "no charcoal in the fuel source at 1,4,2: put some in; until then there is no fuel in 1,3,1"
    )


def test_a_full_bin_stops_the_kilns_one_by_one() -> None:
    """By hand: the kiln farthest up stops last; behind a stop there is 5 x 64 in the node and 64 in the kiln."""
    report = locked_reports()["full-bin"]
    assert (report.came, report.output) == (0, 0)
    kinds = [one.what for one in report.stuck]
    assert kinds.count("full bin") == 1
    assert kinds.count("full of product") == len([one for one in report.furnaces if one.after.full])
    bin_text = next(one.text for one in report.stuck if one.what == "full bin")
    why = "empty it; until then its product lines fill up behind it"
    assert bin_text == f"1728 brick fill the product bin at 4,3,0: {why}"
    brick = {one.kind: one for one in report.balance}["brick"]
    assert brick.inside == 27 * 64 + brick.made
    assert brick.made <= 3 * (5 * 64 + 64)


def test_a_furnace_is_taken_away() -> None:
    report = locked_reports()["furnace-gone"]
    gone = next(one for one in report.furnaces if one.at == KILNS[1])
    assert gone.gone_at == 72_000
    assert gone.whole.ticks == 72_000
    assert 355 <= gone.fired <= 360
    assert len(report.shares) == 2
    why = "it pushes into the empty cell 2,3,1; put the furnace back, or take out what the node holds by hand"
    assert {one.text for one in report.stuck} == {
        f"320 clay in the node at 2,3,2: {why}",
        f"320 charcoal in the node at 2,4,1: {why}",
    }
    coal = {one.kind: one for one in report.balance}["charcoal"]
    assert coal.taken_out == 64, "what it held went with it"


def test_the_furnace_that_is_asked_for_is_taken_away() -> None:
    report = only(LOCKED, "furnace-gone", furnace=KILNS[0])
    assert [one.gone_at for one in report.furnaces] == [18_000, None, None]


def test_parts_that_stood_on_the_furnace_are_told() -> None:
    layout = hall(ROW_HALL.replace(".  nD nD nD .", ".  nD -  nD .", 1))
    report = only(layout, "furnace-gone", 0.2)
    told = [one.text for one in report.events[1:]]
    assert told == ["the line at 2,0,2 stands on nothing at 2,0,1; put a support there"]


def test_a_foreign_item_in_the_feed_blocks_one_kiln() -> None:
    report = locked_reports()["foreign-item-feed"]
    blocked = [one for one in report.furnaces if one.whole.blocked]
    assert len(blocked) == 1
    assert blocked[0].fired == 0
    (stuck,) = report.stuck
    x, y, z = blocked[0].at
    assert stuck.text == (
        f"sand in the feed slot of the furnace at {x},{y},{z}: take it out by hand; until then that furnace fires "
        f"nothing, and the node at {x},{y},{z + 1} keeps 320 clay"
    )
    assert report.output == 720


def test_a_foreign_item_in_the_fuel_stays_in_a_node() -> None:
    report = locked_reports()["foreign-item-fuel"]
    (stuck,) = report.stuck
    assert stuck.text == (
        "sand in the node at 1,4,1: the furnace at 1,3,1 does not burn it; take it out by hand; until then it takes up "
        "a slot there"
    )
    assert report.output == 1080


def test_a_row_without_a_lock_does_not_share_what_fuel_there_is() -> None:
    report = only(hall(ROW_HALL), "fuel-short", 1.0)
    assert not report.passed
    assert [one.fired > 0 for one in report.furnaces] == [True, False, False]
    fuel = next(one for one in report.streams if one.role == "fuel")
    assert fuel.delivered == (67, 0, 0)
    assert fuel.spread == 67
    assert [one.at for one in report.starved] == [(2, 0, 1), (3, 0, 1)]
    assert report.starved[0].after.starved == report.starved[0].after.ticks
    assert report.lost == 0


def test_a_steady_run_that_starves_is_a_no() -> None:
    """Nodes of one item in 400 ticks feed three kilns that fire one in 200 each."""
    report = only(hall(ROW_HALL, period=400, handover=400), "steady", 1.0)
    assert not report.passed
    assert report.starved
    assert report.bound.per_hour == 180


def test_a_want_of_fuel_alone_is_a_no() -> None:
    """A fire of 50 ticks for each item, and an item in 100 ticks: the first kiln has feed, and half of the fuel."""
    layout = hall(ROW_HALL.replace("burn 1600", "burn 50"), period=100, handover=100)
    report = only(layout, "steady", 1.0)
    first = report.furnaces[0].after
    assert (first.no_feed, first.blocked, first.full) == (0, 0, 0)
    assert first.no_fuel == first.starved > first.ticks * 0.4
    assert any("starves" in one.text and "1,0,1" in one.text for one in report.expectations if not one.met)


def test_a_product_line_into_nothing_is_found_and_no_product_comes() -> None:
    layout = hall(ROW_HALL.replace("nE nE nE B", "nE nE nE .", 1))
    report = only(layout, "steady")
    assert not report.passed
    assert "no way on" in {one.what for one in report.stuck}
    assert [one.text for one in report.expectations if not one.met] == ["products come to the product bins"]


def test_a_foreign_item_is_one_that_the_layout_does_not_know() -> None:
    known = {**LOCKED.items, "sand": ItemKind(fires_to="glass")}
    report = production_run(replace(LOCKED, items=known), None, 0.2, ("foreign-item",))[0]
    assert {one.kind for one in report.balance} >= {"gravel"}
    assert "sand" not in {one.kind for one in report.balance}


def test_visits_are_counted() -> None:
    """Each minute: three kilns take 54 clay and no more once everything is full."""
    report = only(LOCKED, "steady", refill=1)
    assert report.refill_minutes == 1
    brick = {one.kind: one for one in report.balance}["brick"]
    assert 0 < brick.inside < 100, "collected a minute ago"
    assert brick.taken_out == brick.made - brick.inside


def test_checkpoints() -> None:
    found = list(checkpoints(default_rules(), 5000, 2, (1800, 9000, 0)))
    assert found == [(1200, False), (1800, False), (2400, True), (3600, False), (4800, True), (5000, False)]


def test_names_of_incidents() -> None:
    assert [kind.name for kind in incidents_named()] == EVERY
    assert [kind.name for kind in incidents_named(["full-bin", "steady", "steady"])] == ["steady", "full-bin"]
    assert {name for kinds in INCIDENTS.values() for name in (kind.name for kind in kinds)} == {*EVERY, "trickle"}
    assert [kind.name for kind in incidents_named(["foreign-item-fuel"])] == ["foreign-item-fuel"], "as reports call it"
    assert [kind.name for kind in incidents_named(["trickle"])] == ["trickle"], "only where it is asked for"
    with pytest.raises(InputError, match='there is no incident "stedy"; did you mean "steady"'):
        incidents_named(["stedy"])


def test_stopped_on_the_way_keeps_what_was_done() -> None:
    stop = threading.Event()

    def told(line: str) -> None:
        if line.startswith("fires-out"):
            stop.set()

    reports = production_run(hall(BIN_HALL), None, 0.2, ("steady", "fires-out", "full-bin"), told=told, stop=stop)
    assert [one.name for one in reports] == ["steady"]
