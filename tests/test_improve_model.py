"""The model of changes against the simulator, change by change; claims at their limits; the random break."""

from __future__ import annotations

import time
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commands import LAYOUTS, document, run
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Gauge, Node, Part, Relay
from synth.confirm.judge import Judge
from synth.improve.bench import Bench
from synth.improve.differences import changes_between
from synth.improve.reading import meant_by
from synth.improve.request import Request
from synth.improve.search import improve
from synth.improve.single import changed, single_changes

SCHEMA = "splitwright-improvement-1"
NO_DRAIN = str(LAYOUTS / "row-of-three-no-drain.plan")
PINNED = ("--scheme", "burst row")
AMPLE = "400"
"""Seconds that the question whether there is any list, a share of them, comes nowhere near."""


@cache
def whole() -> Layout:
    return load_layout(LAYOUTS / "burst-row-of-two.plan")


def without(*cells: Cell) -> Layout:
    assert all(cell in whole().by_cell for cell in cells)
    return replace(whole(), parts=tuple(part for part in whole().parts if part.at not in cells))


def having(*parts: Part) -> Layout:
    cells = {part.at: part for part in parts}
    assert set(cells) <= set(whole().by_cell)
    return replace(whole(), parts=tuple(cells.get(part.at, part) for part in whole().parts))


BREAKS = {
    "drain gauge gone": without((0, 2, 2)),
    "a line gone": without((3, 3, 2)),
    "a support gone": without((2, 0, 1)),
    "a gauge turned": having(Gauge((0, 2, 2), "E")),
    "the last T turned back into the row": having(Node((2, 1, 2), "W")),
    "a B turned": having(Node((1, 1, 1), "N")),
    "a relay the wrong way": having(Relay((3, 3, 2), "W")),
}


@pytest.mark.parametrize("name", BREAKS)
def test_what_the_model_finds_is_a_single_change_that_will_do(name: str) -> None:
    """None of cost 0, one of cost 1, which is a single change, and the simulator has it pass."""
    broken = BREAKS[name]
    meant = meant_by(broken, "burst row")
    bench = Bench(broken, meant, meant.schemes[0], (8,), Request())
    until = time.monotonic() + 60
    assert bench.ask(0, until) == ("none exists", None)
    outcome, candidate = bench.ask(1, until)
    bench.close()
    assert outcome == "found"
    assert candidate is not None
    (change,) = changes_between(broken, candidate.layout)
    assert change in single_changes(broken)
    alone = changed(broken, change)
    assert set(alone.parts) == set(candidate.layout.parts)
    assert Judge(meant.under(meant.schemes[0]), (8,)).accepts(alone)


def test_what_passes_costs_nothing_in_the_model() -> None:
    meant = meant_by(whole(), "burst row")
    bench = Bench(whole(), meant, meant.schemes[0], (8,), Request())
    outcome, candidate = bench.ask(0, time.monotonic() + 60)
    bench.close()
    assert outcome == "found"
    assert candidate is not None
    assert candidate.layout == whole()


def test_a_single_change_is_found_without_the_model_and_says_so() -> None:
    broken = without((0, 2, 2))
    answer = improve(broken, Request(scheme="burst row"))
    assert (answer.status, answer.proved, answer.cost) == ("found", True, 1)
    assert answer.changes[0] in single_changes(broken)
    count = len(single_changes(broken))
    assert answer.scope[-1] == f"{count} of {count} single changes in 5 x 4 x 4 cells were tried"


WIRING = [part for part in whole().parts if part.kind in ("support", "line", "inverter", "gauge")]


@settings(max_examples=6, deadline=None)
@given(st.sampled_from(WIRING))
def test_a_part_that_was_taken_away_costs_no_more_than_one(part: Part) -> None:
    answer = improve(without(part.at), Request(scheme="burst row"))
    assert answer.status in ("found", "passes")
    assert answer.cost <= 1
    assert answer.layout is not None
    meant = meant_by(whole(), "burst row")
    assert Judge(meant.under(meant.schemes[0]), (8,)).accepts(answer.layout)


def test_a_site_that_is_too_small_for_any_list() -> None:
    result = run("improve", NO_DRAIN, *PINNED, "--room", "0", "--time-limit", AMPLE, "--json")
    found = document(result, SCHEMA)
    assert result.exit_code == 1
    assert (found["status"], found["proved"], found["impossible"]) == ("none exists", True, True)
    assert found["singles"] == 35 * (6 * 2 * 4 - 4) + 1
    told = run("improve", NO_DRAIN, *PINNED, "--room", "0", "--time-limit", AMPLE, "--quiet")
    assert "no list of changes makes it pass as a burst row in its site of 6 x 2 x 4 cells" in told.stdout


def test_a_limit_is_no_proof() -> None:
    result = run("improve", NO_DRAIN, *PINNED, "--room", "1", "--most", "6", "--time-limit", "3", "--json")
    found = document(result, SCHEMA)
    assert result.exit_code == 3
    assert (found["status"], found["proved"], found["impossible"], found["layout"]) == ("stopped", False, False, None)
