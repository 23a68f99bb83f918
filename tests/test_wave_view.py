"""The wave view read back: every trace, band, number and place, against the recording that it shows."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from itertools import pairwise
from xml.etree.ElementTree import Element

import pytest

from commands import LAYOUTS
from halls import locked_hall
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Line, Node, Relay
from sim.world.recording import Recording, Steps, record, value_at
from sim.world.signals.structure import links
from splitwright.drawing.axes import COLUMNS, step_path
from splitwright.drawing.svg import document
from splitwright.drawing.wave_view import (
    ROWS_AT_ALL,
    ROWS_MOST,
    Row,
    highest,
    joined,
    rows_of,
    runs,
    selection,
    wave_view,
)
from splitwright.words import english
from worlds import random_run

ROW = LAYOUTS / "burst-row-of-three.plan"
NUMBER = r"-?[\d.]+"
Trace = list[tuple[int, int]]


def random_recordings(count: int) -> list[Recording]:
    found = []
    for seed in range(count):
        layout, case = random_run(random.Random(f"waves {seed}"))
        found.append(record(layout, loads=case["loads"], every=case["every"], order=case["order"], ticks=200))
    return found


RECORDINGS = [*(record(load_layout(path)) for path in sorted(LAYOUTS.glob("*.plan"))), *random_recordings(20)]


# -- reading back


def strokes(path: str) -> tuple[Trace, int]:
    """The steps that a path of H and V strokes draws, and where it ends."""
    start = re.match(r"M0 (\d+)", path)
    assert start is not None, path
    found, x = [(0, int(start[1]))], 0
    for letter, number in re.findall(r"([HV])(\d+)", path[start.end() :]):
        if letter == "H":
            x = int(number)
        else:
            found.append((x, int(number)))
    assert re.sub(r"[HV]\d+", "", path[start.end() :]) == ""
    return found, x


def bands(path: str) -> list[tuple[int, int]]:
    """From tick, to tick of each box."""
    boxes = re.findall(r"M(\d+) 0V1H(\d+)V0Z", path)
    assert "".join(f"M{a} 0V1H{b}V0Z" for a, b in boxes) == path
    return [(int(a), int(b)) for a, b in boxes]


def of_class(root: Element, name: str) -> list[Element]:
    return [element for element in root.iter() if name in (element.get("class") or "").split()]


def rows(view: Element) -> list[Element]:
    return of_class(view, "row")


def cells_of(row: Element) -> list[Cell]:
    numbers = [[int(n) for n in cell.split(",")] for cell in (row.get("data-cells") or "").split()]
    return [(x, y, z) for x, y, z in numbers]


def up_to(steps: Steps, tick: int) -> Trace:
    return [entry for entry in steps if entry[0] <= tick]


# -- every trace


@pytest.mark.parametrize("recording", RECORDINGS)
@pytest.mark.parametrize("share", [1.0, 0.4])
def test_traces_are_the_changes_of_the_recording(recording: Recording, share: float) -> None:
    until = int(recording.last_tick * share)
    for row in rows(wave_view(recording, english(), until)):
        trace, end = strokes(of_class(row, "trace")[0].get("d") or "")
        assert end == until
        for cell in cells_of(row):
            if row.get("data-family") == "lock":
                assert trace == up_to(recording.locks[cell], until)
            elif row.get("data-family") != "line":
                assert trace == up_to(recording.signals[cell], until)
        if row.get("data-family") == "line":
            levels = [recording.signals[cell] for cell in cells_of(row)]
            for tick in range(until + 1):
                assert value_at(tuple(trace), tick) == max(value_at(steps, tick) for steps in levels), tick


@pytest.mark.parametrize("recording", RECORDINGS)
def test_every_signal_and_lock_is_on_a_row(recording: Recording) -> None:
    """In layouts with no more rows than there is room for."""
    parts = recording.layout.parts
    view = wave_view(recording, english())
    assert len(rows(view)) <= ROWS_MOST
    for family, kind in (("gauge", Gauge), ("relay", Relay), ("inverter", Inverter), ("line", Line), ("lock", Node)):
        shown = [cell for row in rows(view) if row.get("data-family") == family for cell in cells_of(row)]
        assert sorted(shown) == sorted(part.at for part in parts if isinstance(part, kind))


@pytest.mark.parametrize("recording", RECORDINGS)
def test_bands_are_the_stretches_in_which_nodes_are_locked(recording: Recording) -> None:
    for row in rows(wave_view(recording, english())):
        boxes = of_class(row, "locked")
        assert len(boxes) == (row.get("data-family") == "lock")
        for box in boxes:
            inside = bands(box.get("d") or "")
            for cell in cells_of(row):
                for tick in range(recording.last_tick):
                    is_within = any(start <= tick < end for start, end in inside)
                    assert is_within == bool(value_at(recording.locks[cell], tick)), (cell, tick)


def test_bands_show_stretches_of_one_tick() -> None:
    recording = record(load_layout(ROW))
    rng = random.Random("bands")
    locks = {cell: as_lock(steps_of(rng)) for cell in recording.locks}
    faked = replace(recording, locks=locks, last_tick=30)
    view = wave_view(faked, english())
    boxes = {cell: bands(of_class(row, "locked")[0].get("d") or "") for row in rows(view)
             if row.get("data-family") == "lock" for cell in cells_of(row)}  # fmt: skip
    assert any(end - start == 1 for inside in boxes.values() for start, end in inside)
    for cell, inside in boxes.items():
        locked = [tick for tick in range(30) if value_at(locks[cell], tick)]
        assert [tick for start, end in inside for tick in range(start, end)] == locked


def as_lock(steps: list[tuple[int, int]]) -> Steps:
    return tuple((tick, i % 2) for i, (tick, _) in enumerate(steps))


def test_numbers_are_levels_at_their_places() -> None:
    """Each number stands just after the change to it, in a stretch that has room for it; some of each row are shown."""
    recording = record(load_layout(ROW))
    view = wave_view(recording, english())
    left, unit = float(view.get("data-left", "")), float(view.get("data-unit", ""))
    for row in rows(view):
        trace, _ = strokes(of_class(row, "trace")[0].get("d") or "")
        numbers = [text for text in of_class(row, "number") if "highest" not in (text.get("class") or "")]
        assert bool(numbers) == (row.get("data-family") in ("gauge", "line"))
        for text in numbers:
            tick = round((float(text.get("x", "")) - 3 - left) / unit)
            assert (tick, int(text.text or "")) in trace


@pytest.mark.parametrize("recording", RECORDINGS[:12])
def test_transform_brings_ticks_and_levels_to_their_places(recording: Recording) -> None:
    """Tick 0 at data-left, the last one at the right end; the highest level SWING above the base, within its row."""
    view = wave_view(recording, english())
    left, unit, until = (float(view.get(name, "")) for name in ("data-left", "data-unit", "data-until"))
    _, _, width, height = (float(n) for n in (view.get("viewBox") or "").split())
    assert left + unit * until < width
    lowest = 0.0
    for row in rows(view):
        trace = of_class(row, "trace")[0]
        found = re.fullmatch(rf"translate\(({NUMBER}) ({NUMBER})\)scale\(({NUMBER}) -({NUMBER})\)",
                             trace.get("transform") or "")  # fmt: skip
        assert found is not None
        x, base, across, rise = map(float, found.groups())
        assert (x, across) == (left, unit)
        highest_level = max(value for _, value in strokes(trace.get("d") or "")[0])
        assert lowest < base - highest_level * rise <= base < height
        lowest = base


# -- rows


@pytest.mark.parametrize("recording", RECORDINGS)
def test_runs_are_the_lines_that_can_be_reached_from_each_other(recording: Recording) -> None:
    """Against a flood along the laws' own links, taken both ways."""
    layout = recording.layout
    lines = {part.at for part in layout.parts if isinstance(part, Line)}
    both_ways: dict[Cell, set[Cell]] = {cell: set() for cell in lines}
    for cell in lines:
        for other in links(layout.by_cell, cell):
            both_ways[cell].add(other)
            both_ways[other].add(cell)
    found = runs(layout)
    assert sorted(cell for run in found for cell in run) == sorted(lines)
    for run in found:
        flood, edge = {run[0]}, [run[0]]
        while edge:
            new = both_ways[edge.pop()] - flood
            flood |= new
            edge += new
        assert flood == set(run)


def test_highest_is_the_largest_at_each_time() -> None:
    rng = random.Random("highest")
    for _ in range(200):
        traces = [tuple(steps_of(rng)) for _ in range(rng.randint(1, 4))]
        top = highest(traces)
        assert all(one[0] < other[0] and one[1] != other[1] for one, other in pairwise(top))
        for tick in range(31):
            assert value_at(top, tick) == max(value_at(steps, tick) for steps in traces)


def steps_of(rng: random.Random) -> list[tuple[int, int]]:
    steps = [(0, rng.randint(0, 15))]
    for tick in sorted(rng.sample(range(1, 30), rng.randint(0, 8))):
        steps.append((tick, (steps[-1][1] + rng.randint(1, 15)) % 16))
    return steps


def test_nodes_with_one_lock_between_them_share_a_row() -> None:
    """In the burst row the B nodes are locked together, the T nodes never."""
    recording = record(load_layout(ROW))
    locks = [row for row in rows_of(recording) if row.family == "lock"]
    assert [row.cells for row in locks] == [
        ((1, 1, 1), (2, 1, 1), (3, 1, 1)),
        ((0, 1, 2), (1, 1, 2), (2, 1, 2), (3, 1, 2)),
    ]
    assert locks[1].steps == ((0, 0),)


def fake(number: int, *, changing: bool, family: str = "relay") -> Row:
    return Row(family, ((number, 0, 0),), ((0, 0), (number + 1, 1)) if changing else ((0, 0),))


def test_few_rows_are_all_shown() -> None:
    few = [fake(i, changing=i % 2 == 0) for i in range(ROWS_MOST)]
    assert selection(few, 1000).rows == few


def test_many_rows_lose_those_that_never_change_and_are_counted() -> None:
    many = [fake(i, changing=i % 4 == 0) for i in range(ROWS_MOST + 8)]
    chosen = selection(many, 1000)
    assert chosen.rows == many[::4]
    assert (chosen.unchanging, chosen.beyond) == (len(many) - len(many[::4]), 0)
    assert selection(many, 4).rows == [many[0]], "what changes later on does not change in what is shown"
    assert selection(many, 5).rows == [many[0], many[4]]


def test_rows_beyond_the_picture_are_counted() -> None:
    many = [fake(i, changing=True) for i in range(ROWS_AT_ALL + 7)]
    chosen = selection(many, 1000)
    assert (len(chosen.rows), chosen.unchanging, chosen.beyond) == (ROWS_AT_ALL, 0, 7)


def test_same_traces_of_one_family_are_joined_in_a_large_view() -> None:
    one, other = fake(3, changing=True), replace(fake(3, changing=True), cells=((9, 9, 9),))
    assert joined([one, other]) == [replace(one, cells=((3, 0, 0), (9, 9, 9)))]
    assert len(joined([one, replace(other, family="inverter")])) == 2


def test_view_of_a_large_hall_is_bounded_and_says_what_is_left_out() -> None:
    """Twelve rows of kilns that all run alike: what one shows stands for all; their cells are all named."""
    recording = record(locked_hall(3, 12))
    view = wave_view(recording, english())
    single = {(row.family, row.steps) for row in rows_of(recording)}
    assert len(rows_of(recording)) > ROWS_MOST > len(single)
    changing = {(family, steps) for family, steps in single if len(steps) > 1}
    assert len(rows(view)) == len(changing)
    shown = {cell for row in rows(view) for cell in cells_of(row)}
    assert shown == {cell for row in rows_of(recording) if len(row.steps) > 1 for cell in row.cells}


def test_notes_say_how_many_rows_are_left_out() -> None:
    recording = record(many_idle_inverters(50))
    view = wave_view(recording, english())
    assert [text.text for text in of_class(view, "left-out")] == [
        "Signals and locks that never change, left out: 50."
    ]
    assert not rows(view)


def many_idle_inverters(count: int) -> Layout:
    """Inverters on the ground, apart from each other, that are lit for ever."""
    layout = load_layout(ROW)
    parts = tuple(Inverter((2 * i, 0, 0), mount="D") for i in range(count))
    return replace(layout, size=(2 * count, 1, 1), parts=parts, streams=())


# -- size


def test_trace_with_too_many_changes_is_drawn_as_what_it_covers() -> None:
    """In each column the path covers the least and the largest value of the changes in it, and ends at the last one."""
    levels = [tick * tick % 15 for tick in range(20_000)]
    steps = tuple((tick, level) for tick, level in enumerate(levels) if tick == 0 or level != levels[tick - 1])
    path = step_path(steps, 20_000)
    assert len(path) < COLUMNS * 30
    trace, end = strokes(path)
    assert end == 20_000
    assert trace[-1][1] == steps[-1][1]
    size = 20_000 // COLUMNS
    for column in range(COLUMNS):
        inside = [value for tick, value in steps[1:] if tick // size == column]
        drawn = [value for x, value in trace[1:] if x == column * size]
        assert {min(inside), max(inside)} <= set(drawn) <= set(inside)


# -- words


def test_labels_with_markup_stay_text() -> None:
    words = english()
    evil = "</text><script>alert(1)</script>"
    phrases = {**words.phrases, "part.gauge": f"{evil} | {evil}", "replay.ticks": evil, "replay.waves": evil}
    recording = record(load_layout(ROW))
    view = wave_view(recording, replace(words, phrases=phrases))
    assert {element.tag for element in view.iter()} == {element.tag for element in wave_view(recording, words).iter()}
    assert "<script" not in document(view)
    assert any(evil in (text.text or "") for text in view.iter("title"))


def test_view_is_a_picture_with_a_name() -> None:
    recording = record(load_layout(ROW))
    view = wave_view(recording, english())
    assert view.get("role") == "img"
    assert [element.tag for element in list(view)[:2]] == ["title", "desc"]
    assert all(element.text for element in list(view)[:2])


def test_rows_name_their_cells() -> None:
    """The label names the first cell; its title names all of them."""
    recording = record(load_layout(ROW))
    view = wave_view(recording, english())
    labels = [text for text in of_class(view, "labels")[0].iter("text") if text.get("class") not in ("family", "short")]
    for row, label in zip(rows(view), labels, strict=True):
        title = label.find("title")
        assert title is not None
        assert title.text is not None
        assert all(cell_text(cell) in title.text for cell in cells_of(row))
        assert cell_text(cells_of(row)[0]) in (title.tail or "")
