"""The trials of splits and of halls are the same: several streams, items told by stream, patterns."""

from __future__ import annotations

from dataclasses import replace

import pytest

from commands import LAYOUTS
from faults import fault_of
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Inverter, Line, Support
from sim.world.rulebook import default_rules
from synth.ask.arrivals import patterns
from synth.confirm.confirmation import confirm
from synth.confirm.trials import Terms, Trials
from synth.hall.confirm import hall_trials

RULES = default_rules()
APART = 20
"""Cells between two rows: too far for one to act on the other."""


def no_drain() -> Layout:
    """A row of three that keeps one item in each B (rulebook, fact 3)."""
    return load_layout(LAYOUTS / "row-of-three-no-drain.plan")


def drained() -> Layout:
    return load_layout(LAYOUTS / "burst-row-of-three.plan")


def beside(one: Layout, other: Layout, item: str = "clay") -> Layout:
    """Both, with nothing in common; the streams are called "feed" and "other", and the second carries ``item``."""

    def moved(cell: Cell) -> Cell:
        return cell[0], cell[1] + APART, cell[2]

    (stream,) = other.streams
    there = replace(
        stream, name="other", item=item, source=moved(stream.source), outputs=tuple(map(moved, stream.outputs))
    )
    parts = (*one.parts, *(replace(part, at=moved(part.at)) for part in other.parts))
    size = (max(one.size[0], other.size[0]), APART + other.size[1], max(one.size[2], other.size[2]))
    return replace(one, size=size, parts=parts, streams=(*one.streams, there))


def faults(layout: Layout, **held: int) -> list[str]:
    """Of the trials of a hall under a handover of 8, those that did not pass."""
    terms = {name: Terms(most) for name, most in held.items()}
    return [trial.fault for trial in hall_trials(layout, RULES, [8], terms) if trial.fault]


@pytest.mark.parametrize("item", ["clay", "sand"])
def test_two_rows_that_keep_items_pass_whatever_they_carry(item: str) -> None:
    both = beside(no_drain(), no_drain(), item)
    assert 8 in confirm(both, RULES, needed=(8,), terms=Terms(3)).handovers
    assert faults(both, feed=3, other=3) == []


@pytest.mark.parametrize("item", ["clay", "sand"])
def test_what_one_row_keeps_is_not_made_up_for_by_another(item: str) -> None:
    """The one that drains may keep 5, which the other has no part in."""
    both = beside(no_drain(), drained(), item)
    assert set(faults(both, feed=2, other=5)) == {"feed: 3 clay stay in nodes, where 2 may"}
    assert faults(both, feed=3, other=0) == []
    assert confirm(both, RULES, needed=(8,), terms=Terms(2)).handovers == ()
    other_way = beside(drained(), no_drain(), item)
    assert set(faults(other_way, feed=5, other=2)) == {f"other: 3 {item} stay in nodes, where 2 may"}


def test_items_that_get_into_another_row_are_told() -> None:
    """Both streams begin at one bin, so all items go to the targets of the first."""
    both = beside(drained(), drained())
    feed, other = both.streams
    told = faults(replace(both, streams=(feed, replace(other, source=feed.source))), feed=60, other=60)
    assert told
    assert all(fault.startswith("feed: ") and "more come out than were put in" in fault for fault in told)


def test_findings_and_restless_builds_are_refused_however_even_they_are() -> None:
    """An inverter that may switch off no more than once; and one that sets itself off, beside the row."""
    hot = replace(drained(), rules={"overheat_count": 1})
    told = faults(hot, feed=0)
    assert told
    assert all("switches off 1 times" in fault for fault in told)
    assert not faults(replace(hot, rules={"overheat_count": 100}), feed=0)
    cells = [(x, APART + y, 0) for x, y in ((0, 0), (0, 1), (0, 2), (1, 2), (2, 2), (2, 1), (2, 0))]
    clock = (Support(cells[0]), Inverter((1, APART, 0), "W"), *map(Line, cells[1:]))
    row = drained()
    restless = replace(row, size=(row.size[0], APART + 3, row.size[2]), parts=(*row.parts, *clock))
    assert set(faults(restless, feed=0)) == {"does not come to rest"}


def test_streams_that_cannot_be_told_apart_are_refused() -> None:
    """An output counts by kind what enters it, from whichever row it comes."""
    layout = drained()
    (stream,) = layout.streams
    twice = replace(layout, streams=(stream, replace(stream, name="again")))
    assert fault_of(lambda: confirm(twice, RULES, needed=(8,))) == (
        'streams.feed: brings the same item to the same outputs as "again"; what each one delivers cannot be told'
    )


def test_each_stream_has_items_for_each_of_its_outputs() -> None:
    """A row of two beside one of three: loads and patterns by the number of its own outputs."""
    both = beside(drained(), load_layout(LAYOUTS / "burst-row-of-two.plan"))
    terms = {"feed": Terms(0, trickles=True), "other": Terms(0, trickles=True)}
    for trial in Trials(both, RULES, terms).under(8, most=5):
        feed, other = (one.given for one in trial.result.streams)
        assert (feed, other) == (3 * trial.per_target * trial.times, 2 * trial.per_target * trial.times)
        assert trial.pattern or not trial.fault


def test_the_patterns_of_halls_are_those_of_splits() -> None:
    row, asked = drained(), Terms(0, trickles=True)
    of_split = Trials(row, RULES, {"feed": asked}).under(8)
    of_hall = hall_trials(row, RULES, [8], {"feed": asked})
    told = [(trial.what, trial.result.tick, trial.fault) for trial in of_split]
    assert told == [(trial.what, trial.result.tick, trial.fault) for trial in of_hall]
    assert [what for what, _, _ in told][-len(patterns(12)) :] == [
        f"4N items one by one ({pattern.name})" for pattern in patterns(12)
    ]
    assert any(fault for _, _, fault in told), "a burst row is not even for items that trickle in"
