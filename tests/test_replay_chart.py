"""The chart of deliveries read back against the recording; axes against Heckbert's own example; colours by WCAG."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from xml.etree.ElementTree import Element

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import LAYOUTS
from halls import locked_hall
from sim.world.files.reading import load_layout
from sim.world.geometry import cell_text
from sim.world.recording import Recording, record, value_at
from splitwright.drawing.axes import nice_marks, nice_number, nice_step, shortened, text_width
from splitwright.drawing.delivered_chart import COLOURS, DASHES, MARKERS, delivered_chart
from splitwright.drawing.svg import document
from splitwright.words import english
from test_wave_view import of_class, strokes
from worlds import random_run

ROW = LAYOUTS / "burst-row-of-three.plan"
UNLOCKED = LAYOUTS / "row-of-three-unlocked.plan"
NO_DRAIN = LAYOUTS / "row-of-three-no-drain.plan"


def random_recordings() -> list[Recording]:
    found = []
    for seed in range(20):
        layout, case = random_run(random.Random(f"chart {seed}"))
        found.append(record(layout, loads=case["loads"], every=case["every"], order=case["order"], ticks=200))
    return found


RECORDINGS = [*(record(load_layout(path)) for path in sorted(LAYOUTS.glob("*.plan"))), *random_recordings()]


def lines(chart: Element) -> dict[tuple[str, str], Element]:
    """The line of each stream and output."""
    return {
        (panel.get("data-stream") or "", line.get("data-output") or ""): line
        for panel in of_class(chart, "panel")
        for line in of_class(panel, "line")
    }


def ends(chart: Element) -> list[str]:
    return [text.text or "" for text in of_class(chart, "end")]


@pytest.mark.parametrize("recording", RECORDINGS)
@pytest.mark.parametrize("share", [1.0, 0.5])
def test_lines_are_the_deliveries_of_the_recording(recording: Recording, share: float) -> None:
    until = int(recording.last_tick * share)
    drawn = lines(delivered_chart(recording, english(), until))
    outputs = [(stream, cell) for stream in recording.layout.streams for cell in stream.outputs]
    assert len(drawn) == len(outputs)
    for stream in recording.layout.streams:
        for cell, steps in zip(stream.outputs, recording.delivered[stream.name], strict=True):
            trace, end = strokes(drawn[stream.name, cell_text(cell)].get("d") or "")
            assert end == until
            assert trace == [entry for entry in steps if entry[0] <= until]


@pytest.mark.parametrize("recording", RECORDINGS)
def test_markers_stand_on_their_lines(recording: Recording) -> None:
    """Each marker of a panel lies on a step of an output that has that marker; labels repeat them to the right."""
    chart = delivered_chart(recording, english())
    left, unit, until = (float(chart.get(name, "")) for name in ("data-left", "data-unit", "data-until"))
    for panel in of_class(chart, "panel"):
        steps_of: dict[tuple[str, str], set[tuple[float, float]]] = {}
        for i, line in enumerate(of_class(panel, "line")):
            found = re.fullmatch(r"translate\(\S+ (\S+)\)scale\(\S+ -(\S+)\)", line.get("transform") or "")
            assert found is not None
            base, rise = float(found[1]), float(found[2])
            places = {(left + tick * unit, base - count * rise) for tick, count in strokes(line.get("d") or "")[0]}
            look = line.get("class", "").removeprefix("line ")
            steps_of.setdefault((MARKERS[i % len(MARKERS)], look), set()).update(places)
        for marker in of_class(panel, "marker"):
            x, y = map(float, re.findall(r"[-\d.]+", marker.get("transform") or ""))
            if x <= left + unit * until + 1:
                places = steps_of[marker.get("d") or "", marker.get("class", "").removeprefix("marker ")]
                assert any(abs(x - px) < 0.1 and abs(y - py) < 0.1 for px, py in places), (x, y)


def test_even_split_has_one_label_for_all() -> None:
    assert ends(delivered_chart(record(load_layout(ROW)), english())) == ["18 each, all 3"]
    assert ends(delivered_chart(record(load_layout(NO_DRAIN)), english())) == ["17 each, all 3"]


def test_uneven_split_has_a_label_for_each_count() -> None:
    """Unlocked, all 54 end in the first target (rulebook section 5, fact 1)."""
    layout = load_layout(UNLOCKED)
    first, second, _ = (cell_text(cell) for cell in layout.streams[0].outputs)
    labels = ends(delivered_chart(record(layout), english()))
    assert labels == [f"0: furnace at {second} and 1 more", f"54: furnace at {first}"]


def test_one_output_has_its_own_name() -> None:
    layout = load_layout(ROW)
    stream = layout.streams[0]
    single = replace(layout, streams=(replace(stream, outputs=stream.outputs[:1]),))
    assert ends(delivered_chart(record(single, loads={"feed": 3}), english())) == ["1: furnace at 1,1,0"]


def test_labels_of_close_ends_do_not_meet() -> None:
    """Eight outputs that end close together in places: a label each, clear of the next."""
    layout = locked_hall(8)
    recording = record(layout)
    name = layout.streams[0].name
    apart = tuple(((0, 0), *((tick, tick) for tick in range(1, end + 1))) for end in (30, 31, 32, 33, 60, 61, 0, 1))
    close = replace(recording, delivered={**recording.delivered, name: apart})
    panel = of_class(delivered_chart(close, english()), "panel")[0]
    heights = sorted(float(text.get("y", "")) for text in of_class(panel, "end"))
    assert len(heights) == 8
    assert all(lower - upper >= 16.9 for upper, lower in pairwise(heights))


def test_outputs_are_told_apart_without_colour() -> None:
    """Marker and dashes together are another pair for each of the first twelve outputs; with colour for sixty."""
    assert len({(i % len(MARKERS), i % DASHES) for i in range(12)}) == 12
    assert len({(i % len(MARKERS), i % DASHES, i % COLOURS) for i in range(60)}) == 60
    assert len(set(MARKERS)) == len(MARKERS)


def test_colours_of_lines_have_a_contrast_of_3_to_1_on_white() -> None:
    """WCAG 2.2, 1.4.11 and the definition of relative luminance."""
    style = (Path(__file__).parent.parent / "splitwright/page/static/replay.css").read_text(encoding="utf-8")
    tones = dict(re.findall(r"\.colour-(\d) { --tone: (#[0-9a-f]{6}); }", style))
    assert sorted(tones) == [str(i) for i in range(COLOURS)]
    traces = re.findall(r"\.trace { stroke: (#[0-9a-f]{6})", style)
    movers = re.findall(r"\.mover\.item-\d { fill: (#[0-9a-f]{6})", style)
    assert traces
    assert movers
    for colour in [*tones.values(), *traces, *movers]:
        assert 1.05 / (luminance(colour) + 0.05) >= 3, colour


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_names_with_markup_stay_text() -> None:
    layout = load_layout(ROW)
    evil = "</text><script>alert(1)</script>"
    named = replace(layout, streams=(replace(layout.streams[0], name=evil),))
    chart = delivered_chart(record(named), replace(english(), items={"clay": evil}))
    plain = delivered_chart(record(layout), english())
    assert [element.tag for element in chart.iter()] == [element.tag for element in plain.iter()]
    assert "<script" not in document(chart)
    assert evil in (of_class(chart, "heading")[0].text or "")


# -- axes


def test_nice_numbers_of_heckbert_s_example() -> None:
    """P. S. Heckbert, "Nice numbers for graph labels", Graphics Gems (1990): data from 105 to 543, about five labels,
    gives labels 100 apart (his figure, from memory)."""
    assert nice_step(543 - 105, 5) == 100


@given(st.floats(min_value=1e-6, max_value=1e9))
def test_nice_numbers_are_near(number: float) -> None:
    above, near = nice_number(number, rounded=False), nice_number(number, rounded=True)
    for nice in (above, near):
        assert re.fullmatch(r"[125]\.?0*e[-+]\d+", f"{nice:.6e}"), nice
    assert number * (1 - 1e-9) <= above < number * 2.5000001
    assert number / 1.5000001 < near < number * 2.0000001


@given(st.integers(0, 1_000_000), st.integers(3, 12))
def test_marks_are_round_few_and_within(length: int, count: int) -> None:
    marks = nice_marks(length, count)
    assert marks[0] == 0
    assert marks[-1] <= length < marks[-1] + nice_step(length, count)
    assert len(marks) <= 1.5 * count + 1
    assert len({b - a for a, b in pairwise(marks)}) <= 1


@given(st.text(alphabet="iM \u7aaf\u2026", max_size=60), st.floats(min_value=20, max_value=300))
def test_shortened_text_has_room(text: str, width: float) -> None:
    short = shortened(text, width, 13.0)
    assert text_width(short, 13.0) <= width
    assert short == text or (short.endswith("…") and text.startswith(short[:-1]))


def test_time_axis_gives_ticks_and_seconds() -> None:
    """20 ticks a second (rulebook section 1)."""
    recording = record(load_layout(ROW))
    chart = delivered_chart(recording, english())
    axis = of_class(chart, "time-axis")[0]
    texts = [text for text in axis.iter("text") if "unit" not in (text.get("class") or "")]
    ticks = [text for text in texts if text.get("class") != "seconds"]
    seconds = [text for text in texts if text.get("class") == "seconds"]
    assert len(ticks) == len(seconds) >= 3
    left, unit = float(chart.get("data-left", "")), float(chart.get("data-unit", ""))
    for tick, second in zip(ticks, seconds, strict=True):
        assert float(second.text or "") * 20 == int(tick.text or "")
        assert tick.get("x") == second.get("x")
        assert abs(float(tick.get("x") or "") - left - int(tick.text or "") * unit) < 0.01


def test_numbers_at_the_end_of_the_view_are_those_of_its_last_tick() -> None:
    recording = record(load_layout(ROW))
    halfway = recording.last_tick // 2
    [label] = ends(delivered_chart(recording, english(), halfway))
    assert label == f"{value_at(recording.delivered['feed'][0], halfway)} each, all 3"
