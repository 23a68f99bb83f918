"""What each output has been given over time: step lines, a panel for each stream.

Lines are told apart by marker and dashes as well as by colour (those of Okabe and Ito 2008 with a contrast of 3:1 on
white), and named at their ends; lines that end together, as those of an even split do, have one name between them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final
from xml.etree.ElementTree import Element

from sim.world.layout import Layout, Stream
from sim.world.recording import Recording, Steps, value_at
from sim.world.statement import mention
from splitwright.drawing.axes import TimeScale, cursor, nice_marks, shortened, step_path, time_axis
from splitwright.drawing.svg import el
from splitwright.words import Words

MARKERS: Final = (
    "M-4 0A4 4 0 1 1 4 0A4 4 0 1 1 -4 0Z",  # circle
    "M-3.6-3.6H3.6V3.6H-3.6Z",  # square
    "M0-4.8L4.6 3.4H-4.6Z",  # triangle
    "M0-5L5 0L0 5L-5 0Z",  # diamond
    "M0 4.8L4.6-3.4H-4.6Z",  # triangle, point down
    "M-4.5-1.6H-1.6V-4.5H1.6V-1.6H4.5V1.6H1.6V4.5H-1.6V1.6H-4.5Z",  # cross
)
COLOURS: Final = 5
DASHES: Final = 4
MARKS_ON_A_LINE: Final = 5
SIGNS_AT_A_LABEL: Final = 6
"""Markers that are shown before a label, at most."""

LEFT, RIGHT, TOP, GAP = 84.0, 300.0, 34.0, 62.0
PLOT_WIDTH, PANEL = 700.0, 220.0
LABEL_ROOM: Final = 17.0
"""Least distance of labels."""
LABEL_SIZE: Final = 13.0


def delivered_chart(recording: Recording, words: Words, until: int | None = None) -> Element:
    """The chart up to tick ``until`` (default: the last one). Linear in the deliveries; its size is bounded.

    A line is a ``<path class="line" data-output="x,y,z">`` in a ``<g class="panel" data-stream>``, in ticks and items.
    Cursor and scale as in the wave view.
    """
    end = recording.last_tick if until is None else until
    scale = TimeScale(end, LEFT, PLOT_WIDTH)
    streams = recording.layout.streams
    height = len(streams) * (TOP + PANEL + GAP)
    return el(
        "svg",
        el("title", words.text("replay.chart")),
        el("desc", words.text("replay.chart_text", tick=end)),
        *(
            _panel(recording, stream, i * (TOP + PANEL + GAP) + TOP, scale, words)
            for i, stream in enumerate(streams)
        ),
        cursor(scale, TOP, max(TOP, height - GAP)),
        class_="delivered", role="img", viewBox=f"0 0 {LEFT + PLOT_WIDTH + RIGHT:.6g} {height:.6g}",
        width=LEFT + PLOT_WIDTH + RIGHT, height=height, **scale.attributes(),
    )  # fmt: skip


def output_sign(number: int) -> Element:
    """How output number ``number`` of a stream is drawn, for a table beside the chart (which names it)."""
    return el(
        "svg",
        el("g", el("path", class_=f"line {_look(number)}", d="M0 8H40"),
           el("path", class_=f"marker {_look(number)}", d=MARKERS[number % len(MARKERS)], transform="translate(20 8)")),
        class_="delivered sign", viewBox="0 0 40 16", width=40, height=16, aria_hidden="true",
    )  # fmt: skip


def _look(number: int) -> str:
    return f"colour-{number % COLOURS} dash-{number % DASHES}"


def _panel(recording: Recording, stream: Stream, top: float, scale: TimeScale, words: Words) -> Element:
    lines = recording.delivered[stream.name]
    most = max(1, *(value_at(steps, scale.until) for steps in lines))
    rise, bottom = PANEL / most, top + PANEL
    heading = shortened(
        words.text("replay.panel", stream=stream.name, item=words.item(stream.item)), LEFT + PLOT_WIDTH, LABEL_SIZE
    )
    drawn = [el("text", heading, class_="heading", x=4, y=top - 14), *_counts(most, bottom, rise, scale, words)]
    for i, (cell, steps) in enumerate(zip(stream.outputs, lines, strict=True)):
        drawn.append(
            el("path", el("title", words.text("replay.row", parts=(mention(recording.layout, cell),))),
               class_=f"line {_look(i)}", d=step_path(steps, scale.until), transform=scale.turned(bottom, rise),
               data_output=",".join(map(str, cell)))
        )  # fmt: skip
    for i, steps in enumerate(lines):
        drawn += _markers(i, len(lines), steps, bottom, rise, scale)
    drawn += _end_labels(recording.layout, stream, lines, bottom, rise, scale, words)
    drawn.append(time_axis(scale, bottom, words, recording.rules.ticks_per_second))
    return el("g", *drawn, class_="panel", data_stream=stream.name)


def _counts(most: int, bottom: float, rise: float, scale: TimeScale, words: Words) -> Iterator[Element]:
    """The axis of items, with fine lines across."""
    marks = nice_marks(most, 6)
    across = "".join(f"M{scale.left:.6g} {bottom - mark * rise:.6g}H{scale.at(scale.until):.6g}" for mark in marks)
    yield el("path", class_="across", d=across)
    yield el("path", class_="axis", d=f"M{scale.left:.6g} {bottom - PANEL:.6g}V{bottom:.6g}")
    for mark in marks:
        yield el("text", words.number(mark), class_="count-mark", x=scale.left - 8, y=bottom - mark * rise + 4.5)


def _markers(number: int, of: int, steps: Steps, bottom: float, rise: float, scale: TimeScale) -> Iterator[Element]:
    """A few along the line, and one at its end. Those of other outputs stand elsewhere, so that lines that run
    together show the markers of all."""
    within = [entry for entry in steps[1:] if entry[0] <= scale.until]
    wanted = min(MARKS_ON_A_LINE, len(within))
    chosen = {int((k + (number + 0.5) / of) * len(within) / wanted) for k in range(wanted)}
    for i in sorted(chosen):
        tick, count = within[i]
        yield _marker(number, scale.at(tick), bottom - count * rise)


def _marker(number: int, x: float, y: float) -> Element:
    return el("path", class_=f"marker {_look(number)}", d=MARKERS[number % len(MARKERS)],
              transform=f"translate({x:.6g} {y:.6g})")  # fmt: skip


def _end_labels(
    layout: Layout, stream: Stream, lines: Sequence[Steps], bottom: float, rise: float, scale: TimeScale, words: Words
) -> Iterator[Element]:
    """Each count that lines end at, with who ends there. Labels that would meet are moved up; what has no room then
    stands in the table alone."""
    ends: dict[int, list[int]] = {}
    for i, steps in enumerate(lines):
        ends.setdefault(value_at(steps, scale.until), []).append(i)
    lowest = bottom
    for count in sorted(ends):
        there, at = bottom - count * rise, min(bottom - count * rise, lowest)
        if at < bottom - PANEL - TOP + LABEL_SIZE:
            return
        lowest = at - LABEL_ROOM
        signs = ends[count][:SIGNS_AT_A_LABEL]
        x, end = scale.at(scale.until) + 22, scale.at(scale.until)
        yield el("path", class_="leader", d=f"M{end:.6g} {there:.6g}L{x - 8:.6g} {at:.6g}")
        for k, number in enumerate(signs):
            yield _marker(number, x + 12 * k, at)
        text = _end_label(layout, stream, count, ends[count], words)
        start = x + 12 * len(signs) - 2
        room = LEFT + PLOT_WIDTH + RIGHT - start
        yield el("text", shortened(text, room, LABEL_SIZE), x=start, y=at + 4.5, class_="end")


def _end_label(layout: Layout, stream: Stream, count: int, outputs: list[int], words: Words) -> str:
    if len(outputs) == len(stream.outputs) > 1:
        return words.text("replay.end_all", count=count, outputs=len(outputs))
    first = mention(layout, stream.outputs[outputs[0]])
    if len(outputs) == 1:
        return words.text("replay.end_one", count=count, output=first)
    return words.text("replay.end_some", count=count, output=first, more=len(outputs) - 1)
