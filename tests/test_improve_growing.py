"""Parts that are missing altogether, put up on one side of a build: ``synth.improve.growing``."""

from __future__ import annotations

import threading
import time
from dataclasses import replace
from functools import cache

import pytest

from commands import LAYOUTS
from sim.analysis.checks import design_findings
from sim.world.files.reading import load_layout
from sim.world.geometry import Direction
from sim.world.layout import Layout
from sim.world.parts import Bin
from sim.world.trial import arrivals_for, run_trial
from synth.improve.growing import Addition, additions, grown
from synth.improve.reading import Meant, meant_by
from synth.improve.request import Request

LIMIT_S = 60.0


@cache
def drainless() -> Layout:
    """The row of two without the two rows of cells in the north, where its drain runs: it keeps one item a target."""
    whole = load_layout(LAYOUTS / "burst-row-of-two.plan")
    w, _, h = whole.size
    return replace(whole, size=(w, 2, h), parts=tuple(part for part in whole.parts if part.at[1] < 2))


@cache
def meant() -> Meant:
    return meant_by(drainless(), "burst row")


def splits_evenly(layout: Layout, per_target: int) -> bool:
    load = {s.name: per_target * len(s.outputs) for s in layout.streams}
    result = run_trial(layout, arrivals_for(layout, load), limit=100_000)
    return all(s.spread == 0 and s.held == 0 and set(s.delivered) == {per_target} for s in result.streams)


def first_addition(request: Request, until: float) -> Addition | None:
    found = additions(drainless(), meant(), meant().schemes[0], (8,), request, until)
    try:
        return next(found, None)
    finally:
        found.close()


@pytest.fixture(scope="module")
def addition() -> Addition:
    found = first_addition(Request(), time.monotonic() + LIMIT_S)
    assert found is not None
    return found


def test_a_missing_drain_is_added(addition: Addition) -> None:
    assert not splits_evenly(drainless(), 1)
    assert addition.changes
    assert {change.action for change in addition.changes} == {"add"}
    assert design_findings(addition.layout) == []
    assert all(splits_evenly(addition.layout, n) for n in (1, 2, 18))


def test_every_part_of_the_build_stays_where_it_is(addition: Addition) -> None:
    dx, dy = addition.moved
    before = {replace(part, at=(part.at[0] + dx, part.at[1] + dy, part.at[2])) for part in drainless().parts}
    assert before == set(addition.origin.parts)
    assert before <= set(addition.layout.parts)
    assert set(addition.layout.parts) - before == {change.after for change in addition.changes}


def test_no_added_part_is_needless(addition: Addition) -> None:
    for change in addition.changes:
        fewer = replace(addition.layout, parts=tuple(p for p in addition.layout.parts if p.at != change.at))
        assert design_findings(fewer) or not all(splits_evenly(fewer, n) for n in (1, 2, 18)), change


def test_the_site_is_no_larger_than_it_must_be(addition: Addition) -> None:
    for axis, old in enumerate(drainless().size):
        reach = max(part.at[axis] for part in addition.layout.parts) + 1
        assert addition.layout.size[axis] == max(reach, old + (*addition.moved, 0)[axis])


def test_what_holds_a_name_is_a_node(addition: Addition) -> None:
    named = {name: addition.layout.by_cell[cell].kind for cell, name in addition.names.items()}
    assert named == dict.fromkeys(("T0", "T1", "T2", "B1", "B2"), "node")


@pytest.mark.parametrize(
    ("side", "size", "source"),
    [
        ("E", (8, 2, 4), (0, 1, 3)),
        ("W", (8, 2, 4), (3, 1, 3)),
        ("N", (5, 5, 4), (0, 1, 3)),
        ("S", (5, 5, 4), (0, 4, 3)),
        ("U", (5, 2, 7), (0, 1, 3)),
    ],
)
def test_a_site_grows_on_one_side(
    side: Direction, size: tuple[int, int, int], source: tuple[int, int, int]
) -> None:
    larger = grown(drainless(), side, 3)
    assert (larger.size, larger.streams[0].source) == (size, source)
    assert isinstance(larger.by_cell[source], Bin)
    assert [part.kind for part in larger.parts] == [part.kind for part in drainless().parts]
    assert all(larger.by_cell[cell].kind == "furnace" for cell in larger.streams[0].outputs)


def test_without_room_nothing_is_looked_for() -> None:
    assert first_addition(Request(room=0), time.monotonic() + LIMIT_S) is None


def test_whoever_stops_it_is_heard() -> None:
    request = Request(stop=threading.Event())
    request.stop.set()
    assert first_addition(request, time.monotonic() + LIMIT_S) is None
    assert first_addition(Request(), time.monotonic()) is None
