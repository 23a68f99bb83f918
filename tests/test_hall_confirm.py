"""The trials of a whole hall: what is broken on purpose is told by the name of its stream, and nothing is lost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest

from hall_kits import RULES, kit, small_hall
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Node, Slot, Support
from sim.world.trial import Arrival, Trial
from splitwright.proposing.hall_report import hall_report
from synth.ask.arrivals import patterns
from synth.confirm.loads import LOADS
from synth.confirm.measures import first_delivering, latency
from synth.confirm.trials import Terms, TrialRecord
from synth.hall.confirm import hall_trials
from synth.hall.measures import furnace_bound, hall_measured, hall_rank
from synth.hall.putting_together import put_together, wings_of
from synth.hall.result import HallAnswer, HallProposal

N = 3
"""Furnaces of each of two sides."""
STREAMS = ("feed-north", "feed-south", "fuel-north", "fuel-south")


@cache
def hall() -> Layout:
    spec = small_hall(2 * N)
    layout, fault = put_together(spec, wings_of(spec, 2 * N, 1, kit()))
    assert layout is not None, fault
    return layout


def terms(held: int = N, trickles: bool = False) -> dict[str, Terms]:
    return {name: Terms(held, trickles) for name in STREAMS}


def faults_of(layout: Layout, asked: Mapping[str, Terms] | None = None, handover: int = 8) -> list[str]:
    return [trial.fault for trial in hall_trials(layout, RULES, [handover], terms() if asked is None else asked)]


def without(layout: Layout, cell: Cell) -> Layout:
    return replace(layout, parts=tuple(part for part in layout.parts if part.at != cell))


def lock_supports(layout: Layout) -> dict[Cell, str]:
    """Supports under a line that lock a B node by being energised, and the stream whose node it is."""
    found = {}
    for stream in layout.streams:
        x0 = min(x for x, _, _ in stream.outputs)
        for x in range(x0, x0 + N):
            for part in layout.parts:
                if part.kind == "line" and part.at[0] == x and near(part.at, stream.source):
                    found[(x, part.at[1], part.at[2] - 1)] = stream.name
    return found


def near(cell: Cell, source: Cell) -> bool:
    """In the wiring lane of the row whose source bin that is."""
    return abs(cell[1] - source[1]) == 1 and source[2] - cell[2] == 1


def test_the_streams_are_those_of_the_hall() -> None:
    assert tuple(sorted(stream.name for stream in hall().streams)) == STREAMS
    supports = lock_supports(hall())
    assert Counter(supports.values()) == dict.fromkeys(STREAMS, N)
    assert all(isinstance(hall().by_cell[cell], Support) for cell in supports)


def test_a_good_hall_passes_every_trial() -> None:
    trials = list(hall_trials(hall(), RULES, [8, 7], terms()))
    assert [trial.fault for trial in trials] == [""] * (2 * len(LOADS))
    assert [trial.handover for trial in trials] == [8] * len(LOADS) + [7] * len(LOADS)
    for trial in trials:
        for one in trial.result.streams:
            assert len(one.delivered) == N
            assert one.spread == 0


def test_a_lock_run_that_is_broken_is_told_by_the_streams_name() -> None:
    """Each of the supports under the lock run, one at a time (with the line on it, which would hang in the air)."""
    for cell, name in lock_supports(hall()).items():
        broken = without(without(hall(), cell), (cell[0], cell[1], cell[2] + 1))
        first = next(fault for fault in faults_of(broken) if fault)
        assert name in first, f"{cell} of {name}: {first}"
        assert not any(other in first for other in STREAMS if other != name)


def test_a_row_without_its_gauge_is_told() -> None:
    for part in hall().parts:
        if part.kind == "gauge":
            assert any(faults_of(without(hall(), part.at)))


def test_items_that_stay_in_the_nodes_are_told_where_none_may() -> None:
    """Undrained rows keep one in each B."""
    told = [fault for fault in faults_of(hall(), terms(held=0)) if fault]
    assert len(told) == len(LOADS)
    assert all("stay in nodes" in fault for fault in told)
    assert all(faults_of(hall(), terms(held=N - 1)))
    assert not any(faults_of(hall(), terms(held=N)))


def test_items_that_stay_in_the_sources_are_told() -> None:
    """The first T of a row is missing: nothing leaves its bin."""
    x, y, z = next(stream.source for stream in hall().streams if stream.name == "fuel-south")
    assert any("in the sources" in fault and "charcoal" in fault for fault in faults_of(without(hall(), (x, y, z - 1))))


def test_what_trickles_in_is_tried_where_it_is_asked_for() -> None:
    """Undrained rows are not even for that: a burst fills the row first."""
    trials = list(hall_trials(hall(), RULES, [8], terms(trickles=True)))
    tried = [trial for trial in trials if trial.pattern]
    assert [trial.pattern for trial in tried] == [pattern.name for pattern in patterns(4 * N)]
    assert any(trial.fault for trial in tried)
    one = {**terms(), "fuel-north": Terms(N, True)}
    first = next(trial for trial in hall_trials(hall(), RULES, [8], one) if trial.pattern)
    delivered = {stream.name: sum(stream.delivered) for stream in first.result.streams}
    assert {name for name, count in delivered.items() if count} <= {"fuel-north"}


def test_trials_end_when_they_are_stopped() -> None:
    assert list(hall_trials(hall(), RULES, [8], terms(), lambda: True)) == []
    looks = iter([False, False, True])
    assert len(list(hall_trials(hall(), RULES, [8], terms(), lambda: next(looks)))) == 2


@pytest.mark.parametrize("per_target", [1, 2, 18])
def test_nothing_is_lost(per_target: int) -> None:
    """What was put in is in the bins, nodes and furnaces at the end, or was fired or burnt: counted cell by cell."""
    trial = Trial(hall(), RULES)
    put = per_target * N
    result = trial.run([Arrival(0, name, put) for name in STREAMS])
    assert result.at_rest
    found: Counter[str] = Counter()
    for slots in result.contents.values():
        for slot in slots:
            if slot is not None:
                found[slot[0]] += slot[1]
    assert found["clay"] + found["brick"] == 2 * put
    burnt = 2 * put - found["charcoal"]
    furnaces = sum(isinstance(part, Furnace) for part in hall().parts)
    fired_each = (2 * put - sum(_held(result.contents, "clay"))) // furnaces
    assert found["brick"] == furnaces * fired_each
    assert burnt == furnaces * -(-fired_each * RULES.firing // 1600), "a piece for each eight begun"


def _held(contents: Mapping[Cell, tuple[Slot | None, ...]], kind: str) -> list[int]:
    """Items of a kind in the nodes of the hall."""
    nodes = [part.at for part in hall().parts if isinstance(part, Node)]
    return [slot[1] for cell in nodes for slot in contents[cell] if slot is not None and slot[0] == kind]


# -- what a confirmed hall is measured by ------------------------------------------------------------------------------


@cache
def trials_of_the_hall() -> list[TrialRecord]:
    return list(hall_trials(hall(), RULES, [8], terms()))


def test_measures_are_those_of_the_parts() -> None:
    spec = small_hall(2 * N, more="[parts]\nrelay = {price = 5}\n")
    m = hall_measured(hall(), trials_of_the_hall(), Fraction(2100), spec)
    assert m.box == hall().size
    assert (m.volume, m.footprint, m.height) == (5 * 9 * 5, 5 * 9, 5)
    assert m.by_kind == Counter(part.kind for part in hall().parts)
    assert sum(m.by_kind.values()) == m.parts == len(hall().parts)
    assert m.price == m.parts + 4 * m.by_kind["relay"]
    assert m.by_kind["bin"] == sum(isinstance(part, Bin) for part in hall().parts) == 5
    assert m.held == 4 * N, "one in each B"
    assert m.held_at_start == 0
    assert m.handovers == (8,)
    assert m.output == 2100


def test_the_report_names_what_was_tried() -> None:
    """Fuel rows that are to be even for gaps (undrained ones are not; here only the words count)."""
    spec = small_hall(2 * N)
    fuel = replace(spec.fuel_stream, even_for="stream")
    asked = {**terms(), "fuel-north": Terms(N, True), "fuel-south": Terms(N, True)}
    trickled = list(hall_trials(hall(), RULES, [8], asked))
    gaps = "fuel also for 4N items one by one, 1 to 40 ticks apart and with 12 draws of gaps"
    for trials, streams, words in (
        (trials_of_the_hall(), spec.streams, ""),
        (trickled, (spec.feed, fuel), gaps),
    ):
        told = replace(spec, streams=streams)
        found = HallProposal(hall(), hall_measured(hall(), trials, Fraction(2100), told), kit(), ((N,), (N,)))
        lines = hall_report(told, HallAnswer(6, [found]), [], False, verbose=True)
        text = "\n".join(line for line in lines if isinstance(line, str))
        assert "loads of N, 2N and 18N items at once, N and 18N twice without reset" in text
        assert words in text
        assert ("one by one" in text) is bool(words)


def test_the_bound_of_the_furnaces_by_hand() -> None:
    """200 ticks a firing, 20 ticks a second: 360 an hour each (rulebook, section 3)."""
    assert furnace_bound(hall(), RULES) == 360 * 2 * N


def test_the_latency_is_that_of_a_load_that_comes_through() -> None:
    """Undrained rows keep the first load of one each: the second counts, from the tick at which it was put in."""
    trials = trials_of_the_hall()
    assert all(sum(one.delivered) == 0 for one in trials[0].result.streams)
    twice = trials[LOADS.index((1, 2))]
    assert twice.began > 0
    trial = Trial(hall(), RULES)
    trial.run([Arrival(0, name, N) for name in STREAMS])
    second = trial.run([Arrival(0, name, N) for name in STREAMS])
    last = max(one.last_arrival or 0 for one in second.streams)
    assert latency(first_delivering(trials)) == last - twice.began > 0


def test_halls_are_ranked_by_the_order_of_the_spec() -> None:
    m = hall_measured(hall(), trials_of_the_hall(), Fraction(2100), small_hall())
    worse = replace(m, volume=m.volume + 1, parts=m.parts - 1)
    assert hall_rank(m, ("volume", "parts")) < hall_rank(worse, ("volume", "parts"))
    assert hall_rank(m, ("parts", "volume")) > hall_rank(worse, ("parts", "volume"))
    faster = replace(m, output=Fraction(2101))
    assert hall_rank(faster, ("throughput",)) < hall_rank(m, ("throughput",)), "more is better"
