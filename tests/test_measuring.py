"""What a layout measures without a spec: the load is as large as its sources have room for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from commands import FLAWED, ROW
from sim.world.files.plan import layout_from_plan
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.rulebook import default_rules
from sim.world.signals.wiring import Wiring, wiring_of
from sim.world.trial import Trial, arrivals_for
from splitwright.cli.measuring import ROUNDS, measured_layout

RULES = default_rules()
HOUR = 3600 * RULES.ticks_per_second


def roomy(layout: Layout, items: int) -> Layout:
    """The layout with bins of one slot, for so many items of any kind."""
    return replace(layout, rules={**layout.rules, "bin_slots": 1, "stack": items}, items={})


@pytest.mark.parametrize(("room", "load"), [(54, 18), (53, 6), (18, 6), (17, 2), (6, 2), (5, 1), (3, 1)])
def test_the_load_is_the_first_of_the_rounds_that_there_is_room_for(room: int, load: int) -> None:
    found = measured_layout(roomy(load_layout(ROW), room), RULES, {})
    assert [(one.handover, one.outcome, one.per_target, one.delivered) for one in found.runs] == [
        (handover, "even", load, {"feed": (load,) * 3}) for handover in (8, 7)
    ]
    assert (found.throughput is not None) == (load == ROUNDS[0])
    assert bool(found.steady) == (load > 2), "more than the short load"


def test_no_room_for_one_item_a_target_or_no_stream_leaves_nothing_to_tell() -> None:
    row = load_layout(ROW)
    for layout in (roomy(row, 2), replace(row, streams=())):
        found = measured_layout(layout, RULES, {})
        assert (found.runs, found.latency, found.throughput, dict(found.steady)) == ((), None, None, {})
        assert found.parts == len(row.parts)


def test_steady_flow_of_a_smaller_load_is_taken_between_it_and_the_short_one() -> None:
    tight = roomy(load_layout(ROW), 18)
    last = {}
    for per_target in (2, 6):
        result = Trial(tight, RULES).run(arrivals_for(tight, {"feed": 3 * per_target}))
        last[per_target] = result.streams[0].last_arrival or 0
    assert measured_layout(tight, RULES, {}).steady == {"feed": (18 - 6) * HOUR / (last[6] - last[2])}


def test_a_second_load_for_which_there_is_no_room_leaves_the_last_arrival_open() -> None:
    """One item stays in a node that pushes against nothing, the other one in the bin, which has room for two."""
    tight = layout_from_plan(
        "splitwright-plan/1\nrule bin_slots 2\nrule node_slots 1\nrule stack 1\n"
        "stream feed clay from 0,0,1 to 2,0,0 3,0,0\nlayer 0\nnW . B B\nlayer 1\nB . . .\n"
    )
    found = measured_layout(tight, RULES, {})
    assert (found.latency, found.held) == (None, 1)
    assert [(one.outcome, one.per_target) for one in found.runs] == [("nothing", 1), ("nothing", 1)]


def test_a_stream_that_delivers_nothing_is_nothing_under_either_handover() -> None:
    found = measured_layout(load_layout(FLAWED), RULES, {})
    assert [one.outcome for one in found.runs] == ["nothing", "nothing"]
    assert not any(found.runs[0].delivered["fuel"])
    assert any(found.runs[0].delivered["clay"])


def test_the_wiring_is_worked_out_once(monkeypatch: pytest.MonkeyPatch) -> None:
    made = []

    def counted(layout: Layout) -> Wiring:
        made.append(layout)
        return wiring_of(layout)

    monkeypatch.setattr("splitwright.cli.measuring.wiring_of", counted)
    measured_layout(load_layout(ROW), RULES, {})
    assert len(made) == 1
