"""Case files: what they state, what they refuse, and that a case is run as it says."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import ROW, faults
from faults import fault_of
from law_table import TIE, TIE_LINES, TIMING
from sim.errors import InputError
from sim.world.case_file import Case, CaseArrival, case_arrivals, case_document, case_from, case_layout, load_case
from sim.world.files.consistency import slots_of
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import SignalPart
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, run_trial
from strategies import NAMES, TEXT, layouts, slots
from worlds import drawn, told, traced

BURST_ROW = load_layout(ROW)
PAGE: dict[str, Any] = {
    "format": "splitwright-case/1",
    "text": "a gap of twelve ticks",
    "handover": 7,
    "arrivals": {"feed": [[0, 3], [12, 1], [20, 1, "sand"]]},
    "order": [list(part.at) for part in reversed(BURST_ROW.machines)],
    "signal_order": [list(part.at) for part in reversed(BURST_ROW.parts) if isinstance(part, SignalPart)],
    "holds": {"0,1,2": [["clay", 40], None, ["sand", 1]], "1,1,1": []},
    "delivered": {"feed": [5, 9, 4]},
}
"""A case of the burst row of three that says something of everything."""
LEAST: dict[str, Any] = {"format": "splitwright-case/1", "arrivals": {}}


def stating(**fields: Any) -> dict[str, Any]:
    return {**LEAST, **fields}


@st.composite
def cases(draw: st.DrawFn, layout: Layout) -> Case:
    """A case of ``layout``, its arrivals stream by stream."""
    arrivals = []
    for stream in layout.streams:
        ticks = sorted(draw(st.lists(st.integers(0, 60), max_size=3)))
        arrivals += [CaseArrival(tick, stream.name, draw(st.integers(1, 9)), draw(st.none() | NAMES)) for tick in ticks]
    rules = layout.rules_in_force(default_rules())
    held = draw(st.lists(st.sampled_from(layout.containers), max_size=3, unique=True)) if layout.containers else []
    holds = {part.at: st.lists(slots(layout, rules), max_size=min(slots_of(part, rules), 6)) for part in held}
    named = [stream for stream in layout.streams if draw(st.booleans())]
    delivered = {stream.name: st.tuples(*[st.integers(0, 99)] * len(stream.outputs)) for stream in named}
    return Case(
        handover=draw(st.none() | st.integers(1, 20)),
        arrivals=tuple(arrivals),
        order=draw(st.none() | st.permutations([part.at for part in layout.machines]).map(tuple)),
        signal_order=draw(st.none() | st.permutations(signal_cells(layout)).map(tuple)),
        holds={cell: tuple(draw(contents)) for cell, contents in holds.items()},
        text=draw(TEXT),
        delivered=draw(st.none() | st.fixed_dictionaries(delivered)),
    )


def signal_cells(layout: Layout) -> list[Cell]:
    return [part.at for part in layout.parts if isinstance(part, SignalPart)]


@st.composite
def layouts_with_cases(draw: st.DrawFn) -> tuple[Layout, Case]:
    layout = draw(layouts())
    return layout, draw(cases(layout))


def test_every_field_is_read(tmp_path: Path) -> None:
    path = tmp_path / "case.json"
    path.write_text(json.dumps(PAGE), encoding="utf-8")
    case = load_case(path, BURST_ROW)
    assert (case.text, case.handover, case.delivered) == ("a gap of twelve ticks", 7, {"feed": (5, 9, 4)})
    assert case.arrivals == (
        CaseArrival(0, "feed", 3),
        CaseArrival(12, "feed", 1),
        CaseArrival(20, "feed", 1, "sand"),
    )
    assert case.order == tuple(part.at for part in reversed(BURST_ROW.machines))
    assert case.signal_order == tuple(reversed(signal_cells(BURST_ROW)))
    assert case.holds == {(0, 1, 2): (("clay", 40), None, ("sand", 1)), (1, 1, 1): ()}
    assert case_document(case) == PAGE


def test_what_is_left_out_is_the_layouts_own() -> None:
    assert case_from(LEAST, BURST_ROW) == Case()
    assert case_layout(BURST_ROW, Case()) == BURST_ROW
    assert case_arrivals(Case()) == []


@given(layouts_with_cases())
def test_any_case_comes_back_from_its_document(drawn_case: tuple[Layout, Case]) -> None:
    layout, case = drawn_case
    document = case_document(case)
    assert faults(document, "splitwright-case-1") == []
    assert case_from(json.dumps(document), layout) == case


@given(layouts_with_cases())
def test_arrivals_by_tick_are_the_same_whatever_way_they_are_listed(drawn_case: tuple[Layout, Case]) -> None:
    """Also where streams alternate in the record, which the document lists one after the other."""
    layout, case = drawn_case
    mixed = replace(case, arrivals=tuple(sorted(case.arrivals, key=lambda arrival: arrival.tick)))
    arrivals = case_arrivals(mixed)
    assert case_arrivals(case_from(case_document(mixed), layout)) == arrivals
    assert [arrival.tick for arrival in arrivals] == sorted(arrival.tick for arrival in case.arrivals)
    for stream in layout.streams:
        ours = [(a.tick, a.count, a.kind) for a in arrivals if a.stream == stream.name]
        assert ours == [(a.tick, a.count, a.kind) for a in case.arrivals if a.stream == stream.name]


def test_streams_into_one_bin_are_put_in_in_the_order_of_the_case() -> None:
    lines = "stream one clay from 0,0,0 to 2,0,0\nstream two brick from 0,0,0 to 2,0,0"
    layout = drawn("B . B", lines)
    for first, second in (("one", "two"), ("two", "one")):
        case = case_from(stating(arrivals={first: [[5, 1]], second: [[0, 1], [5, 1]]}), layout)
        result = run_trial(case_layout(layout, case), case_arrivals(case))
        kinds = [slot[0] for slot in result.contents[0, 0, 0] if slot is not None]
        assert kinds == (["brick", "clay"] if first == "one" else ["clay", "brick"])


@given(layouts_with_cases())
def test_only_signal_parts_change_places(drawn_case: tuple[Layout, Case]) -> None:
    layout, case = drawn_case
    changed = case_layout(layout, case)
    expected = list(case.signal_order if case.signal_order is not None else signal_cells(layout))
    assert signal_cells(changed) == expected
    for before, after in zip(layout.parts, changed.parts, strict=True):
        assert isinstance(before, SignalPart) == isinstance(after, SignalPart)
        if not isinstance(before, SignalPart):
            assert after.at == before.at
            assert case.holds.get(before.at, getattr(before, "holds", None)) == getattr(after, "holds", None)
    assert sorted(map(repr, changed.parts)) == sorted(repr(changed.by_cell[part.at]) for part in layout.parts)
    assert changed.rules == {**layout.rules, **({} if case.handover is None else {"handover": case.handover})}
    assert replace(changed, parts=layout.parts, rules=layout.rules) == layout


@pytest.mark.parametrize("first", [(4, 1, 0), (4, 0, 0)])
def test_signal_order_decides_a_tie_as_the_file_order_does(first: Cell) -> None:
    """Source: the rows of the law table on ties: of two relays due at once, the latching or the latched one first."""
    rows = {row.lines: row for row in TIMING if row.drawing == TIE}
    expected = rows[TIE_LINES if first == (4, 1, 0) else TIE_LINES + "order 4,0,0 4,1,0"].trace
    layout = drawn(TIE, TIE_LINES)
    rest = [cell for cell in ((4, 1, 0), (4, 0, 0), (2, 0, 0)) if cell != first]
    case = Case(arrivals=(CaseArrival(0, "feed", 1),), signal_order=(first, *rest))
    changes, _ = traced(case_layout(layout, case), case_arrivals(case))
    assert sorted(told(changes)) == sorted(expected.split(" ; "))


def test_other_kinds_go_into_the_streams_source() -> None:
    result = run_trial(BURST_ROW, [Arrival(0, "feed", 2), Arrival(0, "feed", 3, "sand")], ticks=0)
    assert result.contents[0, 1, 3][:3] == (("clay", 2), ("sand", 3), None)


def test_a_case_starts_with_its_own_contents_and_handover() -> None:
    """Nothing is put in; what T0 holds in place of nothing goes through the row, a tick sooner each node."""
    ends = {}
    for handover in (7, 8):
        case = Case(handover=handover, holds={(0, 1, 2): (("clay", 3),)})
        result = run_trial(case_layout(BURST_ROW, case), case_arrivals(case))
        assert result.streams[0].delivered == (1, 1, 1)
        assert result.streams[0].held_at_start == 3
        ends[handover] = result.tick
    assert ends[8] - ends[7] == 2


BAD: dict[str, tuple[object, str]] = {
    "no object": ([], "must be a case document, an object with format and arrivals, not []"),
    "no format": ({"arrivals": {}}, 'format: is missing; it must be "splitwright-case/1"'),
    "another format": (
        stating(format="splitwright-case/2"),
        'format: is "splitwright-case/2"; it must be "splitwright',
    ),
    "no arrivals": (
        {"format": "splitwright-case/1"},
        "arrivals: is missing; it must be an object of lists of arrivals",
    ),
    "unknown key": (stating(odrer=None), 'odrer: unknown key; did you mean "order"?'),
    "unknown stream": (
        stating(arrivals={"fed": []}),
        'arrivals.fed: the layout has no stream "fed"; did you mean "feed"?',
    ),
    "ticks that go back": (
        stating(arrivals={"feed": [[3, 1], [3, 1], [2, 1]]}),
        "arrivals.feed[2][0]: goes back from tick 3 to 2; list arrivals by tick",
    ),
    "tick below 0": (
        stating(arrivals={"feed": [[-1, 1]]}),
        "arrivals.feed[0][0]: must be a whole number from 0 to 1000000000, not -1",
    ),
    "count 0": (
        stating(arrivals={"feed": [[3, 0]]}),
        "arrivals.feed[0][1]: must be a whole number from 1 to 1000000, not",
    ),
    "count with a point": (stating(arrivals={"feed": [[3, 1.0]]}), "arrivals.feed[0][1]: must be a whole number"),
    "tick alone": (
        stating(arrivals={"feed": [[3]]}),
        "arrivals.feed[0]: must be an arrival [tick, count] or [tick, count,",
    ),
    "four in an arrival": (stating(arrivals={"feed": [[3, 1, "clay", 1]]}), "arrivals.feed[0]"),
    "kind without a name": (
        stating(arrivals={"feed": [[3, 1, ""]]}),
        "arrivals.feed[0][2]: must be a name, text of at",
    ),
    "kind that is no text": (
        stating(arrivals={"feed": [[3, 1, 7]]}),
        "arrivals.feed[0][2]: must be a name, text of at",
    ),
    "half a character": (
        stating(arrivals={"feed": [[3, 1, "\ud800"]]}),
        'arrivals.feed: "\\ud800" holds half a character',
    ),
    "half a character in the text": (stating(text="\ud800"), 'text: "\\ud800" holds half a character'),
    "half a character in a slot": (
        stating(holds={"0,1,2": [["\ud800", 1]]}),
        'holds["0,1,2"][0][0]: "\\ud800" holds half a character',
    ),
    "handover 0": (stating(handover=0), "handover: must be null or a whole number from 1 to 1000000, not 0"),
    "handover true": (stating(handover=True), "handover: must be null or a whole number from 1 to 1000000, not true"),
    "order too short": (
        stating(order=[[0, 1, 2], [3, 1, 2]]),
        "order: 1,1,0 is missing; list every node and furnace once",
    ),
    "order with a support": (
        stating(order=[[0, 1, 2], [4, 0, 0]]),
        "order[1]: 4,0,0 holds none; list every node and furnace once",
    ),
    "order with a repeat": (stating(order=[[0, 1, 2], [0, 1, 2]]), "order[1]: 0,1,2 stands at order[0] already"),
    "order that is none": (stating(order=7), "order: must be null or a list of cells [x, y, z], not 7"),
    "signal order with a node": (
        stating(signal_order=[[0, 1, 2]]),
        "signal_order[0]: 0,1,2 holds none; list every inverter, relay and gauge once",
    ),
    "signal order too short": (
        stating(signal_order=[]),
        "signal_order: 0,2,2 is missing; list every inverter, relay and",
    ),
    "signal order with a repeat": (
        stating(signal_order=[[0, 2, 2], [0, 2, 2]]),
        "signal_order[1]: 0,2,2 stands at signal_order[0] already",
    ),
    "holds of a support": (
        stating(holds={"0,1,2": [], "4,0,0": []}),
        'holds["4,0,0"]: a support stands there; only a bin, node or furnace holds items',
    ),
    "holds of nothing": (
        stating(holds={"5,5,5": []}),
        'holds["5,5,5"]: nothing stands there; only a bin, node or furnace',
    ),
    "holds of no cell": (stating(holds={"0,1": []}), 'holds["0,1"]: a key must be a cell "x,y,z", not "0,1"'),
    "holds of a far cell": (stating(holds={"9" * 5000 + ",1,1": []}), "holds"),
    "too many slots": (stating(holds={"0,1,2": [None] * 6}), 'holds["0,1,2"]: lists 6 slots, but a node has 5'),
    "too much in a slot": (
        stating(holds={"0,1,2": [None, ["clay", 65]]}),
        'holds["0,1,2"][1][1]: a slot of "clay" takes from 1 to 64, not 65',
    ),
    "delivered of an unknown stream": (
        stating(delivered={"fed": [1, 1, 1]}),
        'delivered.fed: the layout has no stream "fed"; did you mean "feed"?',
    ),
    "delivered to one": (stating(delivered={"feed": [1]}), "delivered.feed: lists 1 output, but the stream has 3"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_cases_are_told_in_one_line(name: str) -> None:
    document, expected = BAD[name]
    assert fault_of(lambda: case_from(json.dumps(document), BURST_ROW)).startswith(expected)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "is empty; a case is JSON"),
        ("{", "line 1, column 2: is no JSON: "),
        (
            '{"format": "splitwright-case/1", "arrivals": {"feed": [], "feed": []}}',
            "arrivals.feed: stands twice in one",
        ),
        ("[" * 100_000, "is nested too deeply"),
        (
            '{"format": "splitwright-case/1", "arrivals": ' + '{"a":' * 400 + "1" + "}" * 401,
            "arrivals.a: must be a list",
        ),
    ],
)
def test_bad_files_are_named(tmp_path: Path, text: str, expected: str) -> None:
    path = tmp_path / "case.json"
    path.write_text(text, encoding="utf-8")
    assert fault_of(lambda: load_case(path, BURST_ROW)).startswith(f"{path}: {expected}")


def test_a_layout_is_no_case() -> None:
    with pytest.raises(InputError, match="is no JSON"):
        load_case(ROW, BURST_ROW)
