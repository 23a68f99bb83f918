"""``synth.improve``: builds broken in known ways; no list is longer than the break, and what it leads to passes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import pytest

from commands import LAYOUTS
from sim.analysis.checks import design_findings
from sim.errors import InputError
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import DELAYS, MOUNTS, OUTLETS, OUTPUTS, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.rulebook import default_rules
from sim.world.trial import arrivals_for, run_trial
from synth.confirm.judge import Judge
from synth.improve.differences import Change, changes_between, is_same
from synth.improve.request import Request
from synth.improve.result import Improvement
from synth.improve.search import improve
from synth.read.layout import spec_of_layout

BURST = "burst row"
DRAIN_GAUGE = (0, 2, 2)
TAIL_GAUGE = (3, 1, 2)


@cache
def build(name: str) -> Layout:
    return load_layout(LAYOUTS / f"{name}.plan")


THREE, TWO, FIVE = "burst-row-of-three", "burst-row-of-two", "burst-row-of-five"


def without(layout: Layout, *cells: Cell) -> Layout:
    assert all(cell in layout.by_cell for cell in cells)
    return replace(layout, parts=tuple(part for part in layout.parts if part.at not in cells))


def having(layout: Layout, *parts: Part) -> Layout:
    """The layout with these parts, in the place of what stands in their cells."""
    cells = {part.at for part in parts}
    return replace(layout, parts=(*(part for part in layout.parts if part.at not in cells), *parts))


def improved(layout: Layout, **words: object) -> Improvement:
    return improve(layout, Request(scheme=BURST, **words))  # type: ignore[arg-type]


def splits_evenly(layout: Layout) -> bool:
    """By the simulator alone: 1, 2 and 18 items a target, nothing left, no finding."""
    loads = [{s.name: n * len(s.outputs) for s in layout.streams} for n in (1, 2, 18)]
    results = [run_trial(layout, arrivals_for(layout, load), limit=100_000, rules=default_rules()) for load in loads]
    even = all(s.spread == 0 and s.held == 0 for result in results for s in result.streams)
    full = all(sum(s.delivered) == load[s.name]
               for result, load in zip(results, loads, strict=True) for s in result.streams)  # fmt: skip
    return even and full and not design_findings(layout, default_rules())


BREAKS = {
    "no drain gauge": without(build(TWO), DRAIN_GAUGE),
    "no support below the lock's run": without(build(TWO), (2, 0, 1)),
    "runs joined by a line on a support": having(build(TWO), Support((4, 1, 1)), Line((4, 1, 2))),
    "gauge on the last T turned": having(build(TWO), Gauge(TAIL_GAUGE, "W")),
    "B2 turned": having(build(TWO), Node((2, 1, 1), "E")),
    "T1 turned": having(build(TWO), Node((1, 1, 2), "N")),
    "two parts gone": without(build(TWO), DRAIN_GAUGE, (4, 0, 2)),
    "a relay against the drain": having(build(TWO), Relay((3, 3, 2), "W")),
    "a row of three without its drain gauge": without(build(THREE), DRAIN_GAUGE),
}


@pytest.mark.parametrize("name", BREAKS)
def test_the_list_is_no_longer_than_the_break_and_what_it_leads_to_passes(name: str) -> None:
    broken = BREAKS[name]
    whole = build(THREE if "of three" in name else TWO)
    assert not splits_evenly(broken)
    answer = improved(broken)
    assert answer.status == "found"
    assert answer.proved
    assert answer.layout is not None
    assert 1 <= answer.cost == len(answer.changes) <= len(changes_between(whole, broken))
    assert splits_evenly(answer.layout)
    assert changes_between(broken, answer.layout) == answer.changes


def test_a_relay_taken_out_of_a_row_of_five_comes_back() -> None:
    broken = having(build(FIVE), Line((7, 1, 2)))
    answer = improved(broken, both=True)
    assert answer.status == "found"
    assert answer.proved
    assert answer.cost == 1
    assert [change.kind for change in answer.changes] == ["relay"]
    assert answer.after is not None
    assert set(answer.after.handovers) >= {7, 8}


def test_without_a_scheme_named_all_that_serve_are_asked() -> None:
    answer = improve(BREAKS["two parts gone"], Request())
    assert (answer.status, answer.proved, answer.cost, answer.scheme) == ("found", True, 2, BURST)
    assert len({attempt.scheme for attempt in answer.attempts}) > 1


def test_with_room_around_it_the_site_grows_only_as_far_as_the_list_needs() -> None:
    whole = build(TWO)
    wider = improved(without(whole, DRAIN_GAUGE), room=1)
    assert wider.status == "found"
    assert wider.layout is not None
    assert splits_evenly(wider.layout)
    assert wider.layout.streams[0].source == (whole.streams[0].source[0] + wider.moved[0],
                                              whole.streams[0].source[1] + wider.moved[1],
                                              whole.streams[0].source[2])  # fmt: skip


def test_a_build_that_passes_needs_no_change() -> None:
    answer = improve(build(THREE), Request())
    assert (answer.status, answer.changes, answer.layout) == ("passes", [], build(THREE))


def test_no_single_change_will_do_where_two_are_claimed_fewest() -> None:
    """Every single change of one cell, tried in the simulator: parts added, removed, turned and replaced."""
    broken = without(build(TWO), DRAIN_GAUGE, (4, 0, 2))
    answer = improved(broken)
    assert (answer.status, answer.proved, answer.cost) == ("found", True, 2)
    spec, _ = spec_of_layout(build(TWO))
    judge = Judge(replace(spec, size=broken.size), (default_rules().handover,))
    passing = [change for change in single_changes(broken) if judge.accepts(change)]
    assert passing == []
    assert judge.accepts(having(broken, *(part for part in build(TWO).parts if part.at in {DRAIN_GAUGE, (4, 0, 2)})))


def single_changes(layout: Layout) -> Iterator[Layout]:
    """All layouts that differ in the wiring or in a node's outlet in just one cell; bins and furnaces stay."""
    w, d, h = layout.size
    for cell in ((x, y, z) for z in range(h) for y in range(d) for x in range(w)):
        there = layout.by_cell.get(cell)
        if there is not None and there.kind in ("bin", "furnace"):
            continue
        if there is not None:
            yield without(layout, cell)
        for part in fillings(cell):
            if not is_same(there, part):
                yield having(layout, part)


def fillings(cell: Cell) -> Iterator[Part]:
    yield Support(cell)
    yield Line(cell)
    yield from (Node(cell, outlet) for outlet in OUTLETS)
    yield from (Inverter(cell, mount) for mount in MOUNTS)
    yield from (Relay(cell, output, delay) for output in OUTPUTS for delay in DELAYS)
    yield from (Gauge(cell, output) for output in OUTPUTS)


def test_none_exists_up_to_a_cost_that_is_too_low() -> None:
    answer = improved(without(build(TWO), DRAIN_GAUGE, (4, 0, 2)), most=1, room=0)
    assert answer.status == "none exists"
    assert answer.attempts[0].settled
    assert answer.attempts[0].least == 2


def test_prices_weigh_what_comes_into_a_cell() -> None:
    broken = without(build(TWO), DRAIN_GAUGE)
    answer = improved(broken, prices={"gauge": 3})
    assert (answer.status, answer.proved) == ("found", True)
    assert answer.cost == sum(change.cost({"gauge": 3}) for change in answer.changes) <= 3


def test_ctrl_c_ends_the_search_without_an_answer() -> None:
    request = Request(scheme=BURST)
    request.stop.set()
    answer = improve(BREAKS["no drain gauge"], request)
    assert answer.status == "stopped"
    assert not answer.proved


def test_a_row_that_is_beyond_the_search_is_told() -> None:
    with pytest.raises(InputError, match="is no furnace"):
        improve(build("runs-apart"), Request())


@pytest.mark.parametrize(
    ("before", "after", "action"),
    [
        (None, Line((0, 0, 0)), "add"),
        (Line((0, 0, 0)), None, "remove"),
        (Line((0, 0, 0)), Support((0, 0, 0)), "replace"),
        (Gauge((0, 0, 0), "E"), Gauge((0, 0, 0), "N"), "turn"),
        (Relay((0, 0, 0), "E", 1), Relay((0, 0, 0), "E", 2), "set"),
    ],
)
def test_what_is_done_in_a_cell(before: Part | None, after: Part | None, action: str) -> None:
    assert Change(before, after).action == action
