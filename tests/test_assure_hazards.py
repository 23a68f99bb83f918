"""Hazards and overheating: each case run again, what is called harmless tried by hand, brute force over gaps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache

import pytest

from sim.analysis.assure.hazards import FOREIGN, HAZARDS, Mishap
from sim.analysis.assure.subject import Subject
from sim.analysis.assure.verdict import Verdict
from sim.world.case_file import Case, CaseArrival, case_arrivals, case_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Holds
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, TrialResult, run_trial
from test_assure_load import (
    BRIMMED,
    LIMIT,
    RESTLESS,
    TWO_STREAMS,
    Emptied,
    asked,
    at_once,
    brimmed,
    plan,
    reference,
    replayed,
    room_of,
    with_handover,
)
from worlds import drawn

PRODUCTS = drawn(
    f". . . . ; . B B . ; . . . . ; . . . . ; . . . . / . . . . ; . nD nD . ; . . . . ; . . . . ; . . . . / "
    f"{BRIMMED.replace('B B', 'F F')}",
    "rule node_slots 1\nrule firing 5\nholds 1,3,2 . charcoal 8\nholds 2,3,2 . charcoal 8\n"
    "holds 2,3,4 clay 64\nholds 1,3,4 clay 63\nstream feed clay from 0,3,5 to 1,3,2 2,3,2",
)
"""The brimmed row over two kilns, each with fuel and a product line below it."""

LAYOUTS: dict[str, Layout] = {
    "two": plan("burst-row-of-two"),
    "three": plan("burst-row-of-three"),
    "no drain": plan("row-of-three-no-drain"),
    "unlocked": plan("row-of-three-unlocked"),
    "brimmed": brimmed(),
    "products": PRODUCTS,
    "two streams": TWO_STREAMS,
    "runs apart": plan("runs-apart"),
}


@cache
def hazards_of(name: str) -> dict[str, Verdict]:
    """By name of the hazard."""
    return {verdict.scope: verdict for verdict in asked(LAYOUTS[name], "hazards")}


def run(layout: Layout, holds: Mapping[Cell, Holds], arrivals: tuple[CaseArrival, ...]) -> TrialResult:
    case = Case(handover=8, arrivals=arrivals, holds=holds)
    return run_trial(case_layout(layout, case), case_arrivals(case), limit=LIMIT)


def served_unevenly(layout: Layout, result: TrialResult, struck: Cell | None) -> bool:
    """The outputs that are not struck differ by two or more, or something is left in a source."""
    for stream, shares in zip(layout.streams, result.streams, strict=True):
        others = [n for cell, n in zip(stream.outputs, shares.delivered, strict=True) if cell != struck]
        if others and max(others) - min(others) > 1:
            return True
        if any(slot is not None for slot in result.contents[stream.source]):
            return True
    return not result.at_rest


@pytest.mark.parametrize("name", LAYOUTS)
def test_every_hazard_is_told_once_and_decides_nothing(name: str) -> None:
    found = asked(LAYOUTS[name], "hazards", 8, 7)
    assert [verdict.scope for verdict in found] == [hazard.name for hazard in HAZARDS]
    assert not any(verdict.decides for verdict in found)
    assert all(verdict.verdict in ("refuted", "tried", "open") for verdict in found), "a hazard is never proved away"


@pytest.mark.parametrize("name", LAYOUTS)
def test_cases_of_hazards_are_run_again(name: str) -> None:
    """What was delivered, by each stream; what waits and where, as the text tells it; and what helps."""
    refuted = 0
    for hazard in HAZARDS:
        verdict = hazards_of(name)[hazard.name]
        if verdict.counterexample is None:
            continue
        refuted += 1
        result = replayed(LAYOUTS[name], verdict.counterexample)
        assert {one.name: one.delivered for one in result.streams} == verdict.counterexample.case.delivered
        shares = " / ".join(map(str, verdict.counterexample.delivered))
        assert f"{verdict.counterexample.stream} comes to {shares}" in verdict.text
        nodes = {cell: slots for cell, slots in result.contents.items() if LAYOUTS[name].by_cell[cell].kind == "node"}
        held = {cell: sum(slot[1] for slot in slots if slot) for cell, slots in nodes.items()}
        waiting = sum(held.values())
        if waiting:
            assert f"{waiting} item" in verdict.text
            assert f"(most, {max(held.values())}, at " in verdict.text
        assert hazard.remedy in verdict.text
        assert hazard.name in verdict.counterexample.case.text
    assert refuted or name in ("brimmed", "unlocked", "two streams")


def test_an_output_that_takes_nothing_by_hand() -> None:
    """Fill each kiln's feed with what does not fire; the others get their share."""
    layout = LAYOUTS["three"]
    verdict = hazards_of("three")["an output that takes nothing"]
    load = (CaseArrival(0, "feed", 54),)
    felt = []
    for cell in layout.streams[0].outputs:
        result = run(layout, {cell: ((FOREIGN, 64),)}, load)
        assert result.streams[0].delivered[layout.streams[0].outputs.index(cell)] == 0
        felt.append(served_unevenly(layout, result, cell))
    assert (verdict.verdict == "refuted") == any(felt)
    assert verdict.cases == (felt.index(True) + 1 if any(felt) else 3)


def test_a_half_full_output_by_hand() -> None:
    layout = LAYOUTS["two"]
    verdict = hazards_of("two")["a half-full output"]
    load = (CaseArrival(0, "feed", 2 * 63),)
    felt = [
        served_unevenly(layout, run(layout, {cell: (("clay", 32),)}, load), cell) for cell in layout.streams[0].outputs
    ]
    assert (verdict.verdict == "refuted") == any(felt)
    for mishap, cell in zip(mishaps_of(layout, verdict.scope), layout.streams[0].outputs, strict=True):
        assert (mishap.struck, mishap.case.holds[cell][0]) == (cell, ("clay", 32))
        assert mishap.case.arrivals == load


def test_a_second_kind_by_hand() -> None:
    """One stray item before all others jams the row of two; behind them it stays in the row without harm."""
    layout = LAYOUTS["two"]
    verdict = hazards_of("two")["a second kind in the stream"]
    before = run(layout, {}, (CaseArrival(0, "feed", 1, FOREIGN), CaseArrival(0, "feed", 36)))
    assert served_unevenly(layout, before, None)
    assert verdict.verdict == "refuted"
    assert verdict.counterexample is not None
    assert verdict.counterexample.delivered == before.streams[0].delivered
    assert {(one.count, one.kind) for one in verdict.counterexample.case.arrivals} == {(1, FOREIGN), (36, None)}


def test_a_full_bin_below() -> None:
    """Only where kilns have a product line; what stands in it is full, and the kiln cannot fire."""
    for name in ("two", "brimmed", "two streams"):
        verdict = hazards_of(name)["a full bin below"]
        assert (verdict.verdict, verdict.cases) == ("open", 0)
        assert "nothing in this layout" in verdict.text
    verdict = hazards_of("products")["a full bin below"]
    assert verdict.verdict in ("refuted", "tried")
    for i, mishap in enumerate(mishaps_of(PRODUCTS, "a full bin below")):
        kiln, holds = PRODUCTS.streams[0].outputs[i], mishap.case.holds
        assert mishap.struck == kiln
        assert set(holds) == {kiln, (kiln[0], 3, 1), (kiln[0], 3, 0)}
        assert holds[kiln] == (None, ("charcoal", 8), ("brick", 64)), "the fuel stays where it was"
        assert holds[kiln[0], 3, 1] == (("brick", 64),)
        assert holds[kiln[0], 3, 0] == (("brick", 64),) * 27
        result = run(PRODUCTS, holds, mishap.case.arrivals)
        assert result.contents[kiln][1:] == (("charcoal", 8), ("brick", 64)), "it does not fire"


def mishaps_of(layout: Layout, name: str) -> list[Mishap]:
    hazard = next(one for one in HAZARDS if one.name == name)
    return list(hazard.mishaps(Subject(layout, default_rules(), 8)))


def test_what_burns_and_comes_from_a_side_fills_the_fuel_slot() -> None:
    layout = drawn("F nW / . nD / . B", "stream feed charcoal from 1,0,2 to 0,0,0")
    (mishap,) = mishaps_of(layout, "an output that takes nothing")
    assert mishap.case.holds == {(0, 0, 0): (None, (FOREIGN, 64), None)}
    assert run(layout, mishap.case.holds, mishap.case.arrivals).streams[0].delivered == (0,)
    assert run(layout, {}, mishap.case.arrivals).streams[0].delivered == (18,)


def test_a_bin_that_takes_nothing_is_full() -> None:
    layout = drawn("B nW / . nD / . B", "rule bin_slots 2\nstream feed clay from 1,0,2 to 0,0,0")
    (mishap,) = mishaps_of(layout, "an output that takes nothing")
    assert mishap.case.holds == {(0, 0, 0): ((FOREIGN, 64),) * 2}
    assert run(layout, mishap.case.holds, mishap.case.arrivals).streams[0].delivered == (0,)


def test_nothing_is_felt_that_is_there_anyway() -> None:
    """A row that is uneven by itself: a mishap that changes nothing is not what makes it so."""
    layout = LAYOUTS["unlocked"]
    plain = run(layout, {}, (CaseArrival(0, "feed", 54),))
    for verdict in hazards_of("unlocked").values():
        if verdict.counterexample is None:
            continue
        struck = set(verdict.counterexample.case.holds)
        same = replayed(layout, verdict.counterexample).streams[0].delivered == plain.streams[0].delivered
        assert not (same and struck), verdict.text


def test_no_time_for_hazards() -> None:
    for verdict in asked(LAYOUTS["two"], "hazards", limit_s=0):
        assert (verdict.verdict, verdict.cases, verdict.text) == ("open", 0, "time was up")


# -- overheating ------------------------------------------------------------------------------------------------------

BLINKER = drawn(
    "nE B ; gS . ; # iW / B . ; . . ; . .",
    "rule bin_slots 1\nrule overheat_count 4\nitem clay stack 20\nstream feed clay from 0,2,1 to 1,2,0",
)
"""An inverter that goes out each time that the first node holds something."""


def overheats(layout: Layout, arrivals: list[tuple[int, int, int]]) -> bool:
    run_ = Emptied(layout)
    names = [stream.name for stream in layout.streams]
    result = run_.trial.run([Arrival(tick, names[k], count) for tick, k, count in arrivals], limit=LIMIT)
    return any(finding.check == "overheats" for finding in result.findings)


@pytest.mark.parametrize("count", [3, 4, 5, 6, 9])
@pytest.mark.parametrize("handover", [7, 8])
def test_the_smallest_gap_under_which_an_inverter_overheats(count: int, handover: int) -> None:
    """Brute force over loads and gaps; sooner or later with the number of times that it takes."""
    layout = with_handover(replace(BLINKER, rules={**BLINKER.rules, "overheat_count": count}), handover)
    room = room_of(layout)
    (verdict,) = asked(layout, "overheating", handover)
    assert not any(overheats(layout, at_once(layout, load)) for load in range(1, room + 1))
    gaps = [gap for gap in range(1, 41) if overheats(layout, [(i * gap, 0, 1) for i in range(min(18, room))])]
    assert bool(gaps) == (count < 5)
    if not gaps:
        assert (verdict.verdict, verdict.cases) == ("proved", room + 40)
        assert verdict.text == "no inverter overheats"
        return
    assert (verdict.verdict, verdict.cases) == ("refuted", room + gaps[0])
    assert f"one every {gaps[0]} ticks" in verdict.text
    assert verdict.counterexample is not None
    findings = replayed(layout, verdict.counterexample).findings
    assert any(finding.check == "overheats" for finding in findings)


def test_an_inverter_that_overheats_under_a_load() -> None:
    """One item sets off an inverter that reads itself."""
    (verdict,) = asked(RESTLESS, "overheating")
    assert (verdict.verdict, verdict.cases) == ("refuted", 1)
    assert verdict.counterexample is not None
    result = replayed(RESTLESS, verdict.counterexample)
    assert any(finding.check == "overheats" for finding in result.findings)
    assert {one.name: one.delivered for one in result.streams} == verdict.counterexample.case.delivered
    assert reference(RESTLESS, at_once(RESTLESS, 1)).rested is False


def test_overheating_is_no_matter_where_there_is_no_inverter() -> None:
    (verdict,) = asked(TWO_STREAMS, "overheating")
    assert verdict.verdict == "proved"


def test_no_time_for_overheating() -> None:
    (verdict,) = asked(BLINKER, "overheating", limit_s=0)
    assert (verdict.verdict, verdict.cases) == ("open", 0)


def test_furnaces_and_bins_are_both_there() -> None:
    kinds = {type(layout.by_cell[cell]) for layout in LAYOUTS.values() for cell in layout.streams[0].outputs}
    assert kinds == {Bin, Furnace}
