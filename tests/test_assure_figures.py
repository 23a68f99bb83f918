"""Figures beside the verdicts: steady flow against long runs, what is held where, fairness as a trial tells it."""

from __future__ import annotations

import json
from collections import Counter

import pytest

from commands import faults, run
from emptying import emptied_outputs
from sim.analysis.assure.asking import ask
from sim.analysis.assure.figures import Figures, figures_of
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import Subject
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Node
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, run_trial
from sim.world.world import World
from test_assure_load import (
    FILL_GAUGE,
    LIMIT,
    RESULTS,
    TWO_STREAMS,
    brimmed,
    plan,
    room_of,
    with_handover,
)
from worlds import drawn

LAYOUTS: dict[str, Layout] = {
    "two": plan("burst-row-of-two"),
    "three": plan("burst-row-of-three"),
    "no drain": plan("row-of-three-no-drain"),
    "three, smallest": load_layout(RESULTS / "three-kilns-smallest.plan"),
    "unlocked": plan("row-of-three-unlocked"),
    "brimmed": brimmed(),
    "two streams": TWO_STREAMS,
    "long period": drawn("nE nE B / B . .", "rule period 13\nstream feed clay from 0,0,1 to 2,0,0"),
    "a node between that is read": drawn(
        "nE nE B ; . gS . ; . # . ; . iN . ; . . . / B . . ; . . . ; . . . ; . . . ; . . .",
        "stream feed clay from 0,4,1 to 2,4,0",
    ),
}


class Flow:
    """A world whose sources are filled up again before each tick, and whose outputs are emptied after it."""

    def __init__(self, layout: Layout) -> None:
        self.layout, self.outputs = layout, emptied_outputs(layout)
        self.delivered: Counter[tuple[Cell, str]] = Counter()
        self.world = World(layout, entered=self._entered)

    def _entered(self, tick: int, cell: Cell, kind: str) -> None:
        self.delivered[cell, kind] += 1

    def go(self, ticks: int) -> list[int]:
        """So many ticks on; what each stream has had delivered by then."""
        for _ in range(ticks):
            self.world.put([(s.source, s.item, 1) for s in self.layout.streams if not self._has_some(s.source)])
            self.world.advance()
            for cell in self.outputs:
                self.world.stores[cell].restore(())
        return [sum(self.delivered[cell, s.item] for cell in s.outputs) for s in self.layout.streams]

    def _has_some(self, source: Cell) -> bool:
        return self.world.stores[source].items > 0


def figures(layout: Layout, handover: int = 8) -> Figures:
    return figures_of(Subject(layout, default_rules(), handover))


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("handover", [7, 8])
def test_steady_flow_is_that_of_a_long_run(name: str, handover: int) -> None:
    """From some tick on, each cycle delivers as many as the last one."""
    layout = with_handover(LAYOUTS[name], handover)
    steady = figures(LAYOUTS[name], handover).steady
    assert steady is not None
    (cycle,) = {one.ticks for one in steady}
    flow = Flow(layout)
    before = flow.go(1_000)
    for _ in range(3):
        after = flow.go(cycle)
        assert [b - a for a, b in zip(before, after, strict=True)] == [one.items for one in steady]
        before = after
    period = layout.rules_in_force(default_rules()).period
    for one in steady:
        assert one.share * one.ticks == one.items * period
        assert 0 <= one.share <= 1
    assert [one.stream for one in steady] == [stream.name for stream in layout.streams]


def test_known_throughputs() -> None:
    """One item a period through a plain row, and through a row of N with its lock; a node that is shared: half each."""
    for name, per_tick in (("long period", 1 / 13), ("two", 1 / 8), ("three", 1 / 8), ("brimmed", 1 / 8)):
        steady = figures(LAYOUTS[name]).steady
        assert steady is not None
        assert steady[0].items / steady[0].ticks == pytest.approx(per_tick)
        assert steady[0].share == 1
    shared = figures(LAYOUTS["two streams"]).steady
    assert shared is not None
    assert sum(one.share for one in shared) <= 1


def test_no_steady_flow_is_told_where_the_source_matters() -> None:
    assert figures(FILL_GAUGE).steady is None


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("handover", [7, 8])
def test_fairness_and_held_items_are_those_of_a_trial(name: str, handover: int) -> None:
    layout = with_handover(LAYOUTS[name], handover)
    found = figures(LAYOUTS[name], handover)
    outputs = Subject(layout, default_rules(), handover).per_round
    assert found.load == min(18, room_of(layout) // outputs)
    load = [Arrival(0, stream.name, found.load * len(stream.outputs)) for stream in layout.streams]
    result = run_trial(layout, load, limit=LIMIT)
    for fair, stream in zip(found.fairness, result.streams, strict=True):
        assert (fair.stream, fair.delivered, fair.jain) == (stream.name, stream.delivered, stream.jain)
        assert (fair.largest_lag, fair.largest_lag_tick) == (stream.largest_lag, stream.largest_lag_tick)
    nodes = [part.at for part in layout.parts if isinstance(part, Node)]
    held = {cell: sum(slot[1] for slot in result.contents[cell] if slot) for cell in nodes}
    assert dict(found.held) == {cell: count for cell, count in held.items() if count}


def test_the_command_of_a_trial_tells_the_same() -> None:
    """The default load of ``trial`` is the one that the figures are of."""
    layout = LAYOUTS["no drain"]
    document = figures(layout).as_json()
    trial = json.loads(run("trial", "specs/layouts/row-of-three-no-drain.plan", "--json").stdout)
    (stream,) = trial["streams"]
    (fair,) = document["fairness"]
    assert fair == {
        "stream": "feed",
        **{key: stream[key] for key in ("delivered", "jain", "largest_lag", "largest_lag_tick")},
    }
    assert document["held"] == {"1,1,1": 1, "2,1,1": 1, "3,1,1": 1}
    assert sum(document["held"].values()) == stream["held"]


@pytest.mark.parametrize("name", LAYOUTS)
def test_documents_follow_the_schema(name: str) -> None:
    found = ask(LAYOUTS[name], Request(questions=("handover",)), handovers=(8, 7)).as_json()
    assert faults(found, "splitwright-assurance-1") == []
    assert [one["handover"] for one in found["figures"]] == [8, 7]
