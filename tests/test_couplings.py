"""Couplings of a small hall: silent where its rows keep to themselves, explained where they do not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from commands import LAYOUTS, document, faults, run
from hall_plans import HALL, VARIANTS, hall, hall_with, lines
from sim.analysis.checks import design_findings
from sim.analysis.checks.explained import Explained
from sim.analysis.couplings import Coupling, couplings
from sim.analysis.couplings.lockers import lockers
from sim.analysis.couplings.rows import rows_of
from sim.analysis.couplings.study import study_of
from sim.world.files.plan import layout_from_plan
from sim.world.files.plan_writer import layout_to_plan
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.parts import Bin, Gauge, Inverter, Line, Node, Relay, Support
from sim.world.world import World
from worlds import drawn


@dataclass(frozen=True)
class Case:
    """``found``: check and cell of each finding; ``couples``: ``kind from>to: nodes`` of each coupling."""

    variant: str
    found: str
    couples: str


CASES = (
    Case("touching", "touching runs 5,2,3", "meets feed>fuel: 3,2,1 2,2,1 3,3,2 2,3,2"),
    Case("touching a step up", "touching runs 5,2,2", "meets feed>fuel: 3,2,1 2,2,1 3,3,2 2,3,2"),
    Case("shared support", "touching runs 5,3,2", "meets feed>fuel:"),
    Case("feed over fuel", "couples 3,2,2", "locks feed>fuel: 3,2,2"),
    Case("kiln energised", "couples 3,2,1;couples 3,3,0", "locks feed>fuel: 3,2,1;product feed>product: 3,3,0"),
    Case("inverter beside", "couples 3,2,2", "locks feed>fuel: 3,2,2"),
    Case("relay in front", "touching runs 3,1,2", "meets feed>fuel: 3,2,1 2,2,1"),
)


def told(coupling: Coupling) -> str:
    nodes = "".join(f" {cell_text(node)}" for node in coupling.nodes)
    return f"{coupling.kind} {coupling.from_stream}>{coupling.to_stream}:{nodes}"


def test_rows_that_keep_to_themselves_are_not_coupled() -> None:
    assert couplings(hall()) == []
    assert design_findings(hall()) == []


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.variant)
def test_what_disturbs_the_hall_is_found(case: Case) -> None:
    layout = hall_with(*VARIANTS[case.variant])
    assert ";".join(told(coupling) for coupling in couplings(layout)) == case.couples
    found = design_findings(layout)
    assert ";".join(f"{one.check} {cell_text(one.at or (0, 0, 0))}" for one in found) == case.found
    for finding in found:
        assert isinstance(finding, Explained)
        assert "feed" in finding.streams
        assert finding.path


def test_all_variants_are_tried() -> None:
    assert {case.variant for case in CASES} == set(VARIANTS)


TEXTS = {
    "feed over fuel": (
        'a signal of "feed" can lock the node at 3,2,2 (T3 of "fuel"): the gauge at 0,4,3 reads the node at 0,3,3 (T0 '
        'of "feed") and puts out into the line at 0,5,3, which runs to 4,2,3 and lies on top of the support at 4,2,2 '
        'and energises it, which locks the node at 3,2,2 (T3 of "fuel"); keep the support at 4,2,2 away from that '
        "node, or break the way before it"
    ),
    "touching a step up": (
        'the lines at 5,2,2 and 5,3,3 join signals of "feed" (the gauge at 0,4,3 reads 0,3,3) and "fuel" (the gauge at '
        '0,1,2 reads 0,2,2), so "feed" can lock the node at 3,2,1 (B3 of "fuel"), and 3 more nodes are locked by the '
        'other row: the gauge at 0,4,3 reads the node at 0,3,3 (T0 of "feed") and puts out into the line at 0,5,3, '
        "which runs to 5,3,3 and touches the line at 5,2,2, which runs to 3,1,2 and lies on top of the support at "
        '3,1,1 and energises it, which locks the node at 3,2,1 (B3 of "fuel"); keep a free cell between the runs of '
        "different streams"
    ),
    "kiln energised": (
        'a signal of "feed" can lock the node at 3,2,1 (B3 of "fuel"): the gauge at 4,3,2 reads the node at 3,3,2 (B3 '
        'of "feed") and puts out into the line at 5,3,2, which runs to 3,4,1 and points into the furnace at 3,3,1 and '
        'energises it, which locks the node at 3,2,1 (B3 of "fuel"); keep the furnace at 3,3,1 away from that node, or '
        "break the way before it"
    ),
}


@pytest.mark.parametrize("variant", TEXTS)
def test_an_explanation_is_one_sentence_that_can_be_followed(variant: str) -> None:
    assert design_findings(hall_with(*VARIANTS[variant]))[0].text == TEXTS[variant]


def with_reading(layout: Layout, cell: Cell, full: bool) -> Layout:
    """The layout with a node full of clay, or with nothing in it."""
    holds = tuple(("clay", 64) for _ in range(5)) if full else ()
    parts = tuple(replace(p, holds=holds) if p.at == cell and isinstance(p, (Bin, Node)) else p for p in layout.parts)
    return replace(layout, parts=parts)


@pytest.mark.parametrize(
    "case", [case for case in CASES if case.couples != "meets feed>fuel:"], ids=lambda c: c.variant
)
def test_what_is_told_of_the_hall_happens_in_the_simulator(case: Case) -> None:
    """The container that the source reads, filled, changes the lock of the node at the end of the way."""
    layout = hall_with(*VARIANTS[case.variant])
    for coupling in couplings(layout):
        wiring = study_of(layout).graph.wiring
        (gauge,) = (i for i, part in enumerate(wiring.parts) if part.at == coupling.source)
        read = wiring.reads[gauge]
        assert read is not None
        locked = []
        for full in (False, True):
            field = World(with_reading(layout, read, full)).field
            locked.append(field.locked[wiring.nodes.index(coupling.target)])
        assert locked[0] != locked[1]


def test_rows_and_labels_of_the_hall() -> None:
    rows = rows_of(hall())
    assert rows.names == ("feed", "fuel", "product")
    assert rows.of[2, 3, 1] == ("feed", "fuel")
    assert {rows.of[x, 3, 3] for x in range(4)} == {("feed",)}
    assert {rows.of[cell] for cell in ((2, 3, 0), (3, 3, 0), (4, 3, 0))} == {("product",)}
    labels = {rows.labels[cell] for cell in ((0, 3, 4), (1, 3, 3), (3, 2, 1), (2, 3, 0), (4, 3, 0))}
    assert labels == {'the source of "feed"', 'T1 of "feed"', 'B3 of "fuel"', "a product node", "a product bin"}


def test_a_stream_called_product_is_not_mixed_up_with_what_is_fired() -> None:
    layout = layout_from_plan(HALL.replace("stream feed clay", "stream product clay"))
    assert rows_of(layout).names == ("product", "fuel", "product row")
    assert couplings(layout) == []


def over_the_product_row(kilns: int, relay_at: int) -> Layout:
    """A gauge on the feed's last B, and a run back along the kilns over a support beside each product node."""
    start = (Gauge((4, 3, 2), "E"), *lines((5, 3, 2), (5, 4, 1), (4, 4, 1)))
    along = [Relay((x, 4, 1), "W") if x == relay_at else Line((x, 4, 1)) for x in range(2, kilns + 2)]
    under = [Support((x, 4, 0)) for x in range(2, kilns + 2)]
    layout = hall_with(*start, kilns=kilns)
    return replace(layout, parts=(*layout.parts, *along, *under))


@pytest.mark.parametrize(("relay_at", "locked"), [(-1, 8), (5, 7)])
def test_one_web_of_signals_is_one_coupling_however_many_nodes_it_locks(relay_at: int, locked: int) -> None:
    found = couplings(over_the_product_row(8, relay_at))
    assert [(one.kind, one.from_stream, len(one.nodes)) for one in found] == [("product", "feed", locked)]
    assert f" and {locked - 1} more of its row: " in found[0].text


def test_a_gauge_on_the_product_that_stops_the_fuel_is_a_coupling() -> None:
    more = (Gauge((4, 2, 0), "S"), Support((4, 1, 0)), Inverter((3, 1, 0), "E"))
    layout = hall_with(*more)
    (found,) = couplings(layout)
    assert told(found) == "meets product>fuel: 2,2,1 3,2,1"
    assert found.at == (3, 1, 2)
    (finding,) = design_findings(layout)
    assert isinstance(finding, Explained)
    assert (finding.check, finding.at, finding.streams) == ("touching runs", (3, 1, 2), ("fuel", "product"))
    assert "the product row (the gauge at 4,2,0 reads 4,3,0)" in finding.text


def test_a_product_node_that_is_always_locked_is_told_by_that_check_alone() -> None:
    layout = hall_with(Inverter((2, 2, 0), "D"))
    (found,) = couplings(layout)
    assert (told(found), found.source, found.is_always) == ("steady >product: 2,3,0", (2, 2, 0), True)
    assert {finding.check for finding in design_findings(layout)} == {"always locked"}


def test_a_product_node_under_a_kiln_that_is_never_fed_is_still_told() -> None:
    """Nothing comes to it on a stream's way, so that no other check looks at it."""
    layout = drawn("B nW iD / . F . ", "stream feed clay from 0,0,0 to 0,0,0")
    assert [(one.check, one.at, one.path[0].cell) for one in explained(layout)] == [("couples", (1, 0, 0), (2, 0, 0))]


def explained(layout: Layout) -> list[Explained]:
    return [finding for finding in design_findings(layout) if isinstance(finding, Explained)]


def test_a_gauge_on_no_rows_container_couples_with_the_product_alone() -> None:
    """It may well be meant to lock a row; but nothing is to lock the product."""
    of_feed = drawn("B* gE nW / . . B", "stream feed clay from 2,0,1 to 2,0,0")
    assert couplings(of_feed) == []
    of_product = drawn("B* gE nW / . . F", "stream feed clay from 0,0,0 to 0,0,0")
    (found,) = couplings(replace(of_product, streams=()))
    assert (found.kind, found.from_stream, found.to_stream, found.streams) == ("product", "", "product", ("product",))
    assert found.text.startswith("a signal of no row can lock the node at 2,0,0 (a product node): the gauge at 1,0,0")


def test_a_gauge_on_what_two_streams_share_couples_with_neither() -> None:
    """A gauge on the second kiln that energises the supports of both rows: shared on purpose."""
    layout = hall_with(Gauge((4, 3, 1), "E"), *lines((5, 3, 1), (5, 2, 1), (5, 1, 2), (4, 1, 2)))
    assert [(one.owners, one.origin, one.is_coupling) for one in lockers(study_of(layout)) if len(one.origin) > 1] == [
        (("fuel",), ("feed", "fuel"), False),
        (("fuel",), ("feed", "fuel"), False),
    ]
    assert couplings(layout) == []


@pytest.mark.parametrize("path", sorted(LAYOUTS.glob("*.plan")), ids=lambda path: path.stem)
def test_the_layouts_of_the_specs_are_coupled_only_where_they_say_so(path: Path) -> None:
    found = couplings(load_layout(path))
    assert bool(found) == (path.stem == "touching-runs")


def test_a_wide_hall_is_silent_and_its_graph_grows_with_its_kilns() -> None:
    sizes = []
    for kilns in (16, 32, 48):
        layout = hall(kilns)
        assert couplings(layout) == []
        sizes.append(study_of(layout).graph.varying.number_of_edges())
    assert sizes[2] - sizes[1] == sizes[1] - sizes[0] > 0


def test_a_wide_hall_tells_a_touch_once() -> None:
    """Each row locks the other's nodes back to the last relay, where the level carries as far: 4 kilns and 6 cells."""
    for kilns, locked in ((28, 2 * 4), (32, 2 * 1)):
        (found,) = couplings(hall_with(*VARIANTS["touching"], kilns=kilns))
        assert (found.kind, len(found.nodes)) == ("meets", locked)


def test_lockers_list_every_node_that_can_be_locked() -> None:
    found = lockers(study_of(hall()))
    assert [(cell_text(one.node), cell_text(one.source), one.is_coupling) for one in found] == [
        ("2,2,1", "0,1,2", False),
        ("2,3,2", "0,4,3", False),
        ("3,2,1", "0,1,2", False),
        ("3,3,2", "0,4,3", False),
    ]
    assert {one.origin for one in found} == {("feed",), ("fuel",)}
    assert all(one.origin == one.owners for one in found)


def test_check_lists_who_can_lock_what(tmp_path: Path) -> None:
    plan = tmp_path / "hall.plan"
    plan.write_text(layout_to_plan(hall_with(*VARIANTS["feed over fuel"])), encoding="utf-8")
    result = run("check", str(plan), "--couplings", "--json")
    assert result.exit_code == 1
    found = document(result, "splitwright-check-1")
    (finding,) = found["findings"]
    assert finding["streams"] == ["feed", "fuel"]
    assert finding["path"][0]["cell"] == "0,4,3"
    assert finding["path"][-1] == {"cell": "3,2,2", "how": 'is locked (T3 of "fuel")'}
    crossing = [lock for lock in found["locks"] if lock["coupling"]]
    assert [(lock["node"], lock["of"], lock["source"], lock["from"]) for lock in crossing] == [
        ([3, 2, 2], ["fuel"], [0, 4, 3], ["feed"])
    ]
    assert len(found["locks"]) == 5
    shown = run("check", str(plan), "--couplings").stdout
    assert ["node", "of", "source", "reads", "coupling", "way"] in map(str.split, shown.splitlines())
    (answer,) = run("check", str(plan), "--couplings", "--quiet").stdout.splitlines()
    assert shown.splitlines()[0] == answer
    assert answer.startswith("1 finding: ")
    assert "locks" not in document(run("check", str(plan), "--json"), "splitwright-check-1")


def test_check_says_when_nothing_can_be_locked() -> None:
    result = run("check", str(LAYOUTS / "row-of-three-unlocked.plan"), "--couplings")
    assert result.exit_code == 0
    assert result.stdout.startswith("No findings: ")
    assert result.stdout.endswith("\n\nNothing can lock a node.\n")


@pytest.mark.parametrize(
    "spoil",
    [
        lambda found: found["findings"][0].update(path=[]),
        lambda found: found["findings"][0]["path"][0].pop("how"),
        lambda found: found["findings"][0].update(streams=[]),
        lambda found: found["locks"][0].update(coupling="yes"),
        lambda found: found["locks"][0].pop("path"),
    ],
)
def test_the_schema_refuses_broken_ways(spoil: Callable[[dict[str, Any]], object]) -> None:
    found = document(run("check", str(LAYOUTS / "touching-runs.plan"), "--couplings", "--json"), "splitwright-check-1")
    spoil(found)
    assert faults(found, "splitwright-check-1") != []
