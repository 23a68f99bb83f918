"""Every single change tried in the simulator, without a model: ``synth.improve.single``."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commands import LAYOUTS
from sim.analysis.checks import design_findings
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Node, Part
from synth.confirm.judge import Judge
from synth.improve.differences import Change, changes_between
from synth.improve.request import Request
from synth.improve.search import improve
from synth.improve.single import changed, single_changes, try_singles
from synth.read.layout import spec_of_layout

DRAIN_GAUGE = (0, 2, 2)


@cache
def whole() -> Layout:
    return load_layout(LAYOUTS / "burst-row-of-two.plan")


@cache
def judge() -> Judge:
    """Of the whole build: its row, its scheme, the handover in force."""
    spec, _ = spec_of_layout(whole())
    return Judge(spec, (spec.rules.handover,))


def without(*cells: Cell) -> Layout:
    assert all(cell in whole().by_cell for cell in cells)
    return replace(whole(), parts=tuple(part for part in whole().parts if part.at not in cells))


def never() -> bool:
    return False


def test_each_cell_takes_every_part_in_turn() -> None:
    """Rulebook, section 2, counted by hand: 1 support, 1 line, 5 inverters, 4 x 4 relays, 4 gauges, 5 nodes, 1 furnace,
    2 bins make 35 things for an empty cell; another cell can lose its part, or have 34 others. The source bin can only
    change its finish, and the two furnaces not at all."""
    changes = single_changes(whole())
    assert len(changes) == 35 * (5 * 4 * 4 - 3) + 1
    assert len({(change.at, change.after) for change in changes}) == len(changes)
    assert all(whole().by_cell.get(change.at) == change.before for change in changes)
    source = whole().streams[0].source
    assert [change.after for change in changes if change.at == source] == [Bin(source, "marked")]


def test_a_part_that_is_replaced_keeps_its_place_in_the_order() -> None:
    second = whole().parts[1]
    for after in (None, replace(second, at=second.at), Node(second.at, "D")):
        cells = [part.at for part in changed(whole(), Change(second, after)).parts]
        kept = [part.at for part in whole().parts if after is not None or part != second]
        assert cells == kept
    new = Node((4, 3, 3), "D")
    assert changed(whole(), Change(None, new)).parts == (*whole().parts, new)


def test_a_node_that_is_turned_keeps_what_it_holds() -> None:
    t1: Cell = (1, 1, 2)
    filled = replace(whole().by_cell[t1], holds=(("clay", 3),))
    build = replace(whole(), parts=tuple(filled if part.at == t1 else part for part in whole().parts))
    nodes = [change.after for change in single_changes(build) if change.at == t1 and isinstance(change.after, Node)]
    assert [node.outlet for node in nodes] == ["W", "N", "S", "D"]
    assert {node.holds for node in nodes} == {(("clay", 3),)}


def test_what_is_found_is_what_was_taken_away() -> None:
    """And nothing else will do, which no model is asked about."""
    found = try_singles(without(DRAIN_GAUGE), [judge()], never)
    assert found.complete
    assert not found.none_will_do
    assert [change.after for change in found.passing] == [whole().by_cell[DRAIN_GAUGE]]


def test_the_first_one_ends_the_search() -> None:
    found = try_singles(without(DRAIN_GAUGE), [judge()], never, first_only=True)
    assert len(found.passing) == 1
    assert not found.complete


def test_where_no_single_change_will_do_the_model_claims_two() -> None:
    broken = without(DRAIN_GAUGE, (3, 3, 2))
    assert try_singles(broken, [judge()], never).none_will_do
    answer = improve(broken, Request(scheme="burst row"))
    assert (answer.status, answer.proved, answer.cost) == ("found", True, 2)


def test_where_it_is_stopped_nothing_is_shown() -> None:
    looks = iter(range(100))
    found = try_singles(without(DRAIN_GAUGE, (3, 3, 2)), [judge()], lambda: next(looks) >= 5)
    assert (found.tried, found.complete, found.none_will_do) == (5, False, False)


def test_a_change_that_the_model_has_no_word_for() -> None:
    """Two bins side by side merge; to mark one of them is a change, and one that will do."""
    x, y, z = whole().streams[0].source
    beside = Bin((x, y + 1, z))
    build = replace(whole(), parts=(*whole().parts, beside))
    assert [finding.check for finding in design_findings(build)] == ["merging bins"]
    bins = [change for change in single_changes(build) if isinstance(change.before, Bin)]
    passing = [change for change in bins if judge().accepts(changed(build, change))]
    assert Change(whole().by_cell[x, y, z], Bin((x, y, z), "marked")) in passing
    assert Change(beside, None) in passing
    assert {change.action for change in passing} >= {"set", "remove"}


WIRING = [part for part in whole().parts if part.kind in ("support", "line", "inverter", "gauge", "relay")]


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(WIRING))
def test_what_was_taken_away_is_among_the_changes_and_makes_it_pass_again(part: Part) -> None:
    broken = without(part.at)
    back = Change(None, part)
    assert back in single_changes(broken)
    restored = changed(broken, back)
    assert changes_between(whole(), restored) == []
    assert judge().accepts(restored)


@pytest.mark.parametrize("finish", ["plain", "marked"])
def test_a_source_changes_its_finish(finish: str) -> None:
    source = whole().streams[0].source
    build = changed(whole(), Change(whole().by_cell[source], Bin(source, "marked"))) if finish == "marked" else whole()
    (other,) = [change.after for change in single_changes(build) if change.at == source]
    assert isinstance(other, Bin)
    assert other.finish != finish
