"""The replay as it stands on a sheet: stage, waves, chart, table, and the record that the script plays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from xml.etree.ElementTree import Element

from markupsafe import Markup

from sim.world.layout import Stream
from sim.world.recording import Recording
from sim.world.statement import ItemWord, Mention, Statement, Value, mention
from splitwright.drawing.delivered_chart import delivered_chart, output_sign
from splitwright.drawing.stage import stage
from splitwright.drawing.svg import el, markup
from splitwright.drawing.wave_view import wave_view
from splitwright.page.embedding import json_text
from splitwright.sheet.replay_data import (
    BUDGET_BYTES,
    TICKS_AFTER_LAST,
    natural_end,
    replay_data,
)
from splitwright.words import Words

RATES: Final = (1, 5, 100)
"""Ticks a second that can be chosen beside the world's own."""
SHAPES: Final = (
    "M-6 0A6 6 0 1 1 6 0A6 6 0 1 1 -6 0Z",
    "M-5.5-5.5H5.5V5.5H-5.5Z",
    "M0-7L6.5 5H-6.5Z",
    "M0-7.5L7.5 0L0 7.5L-7.5 0Z",
)
"""Circle, square, triangle, diamond: what items look like while they move, in the order of the record."""


@dataclass(frozen=True, slots=True)
class Total:
    """What one output was given in the whole trial. ``first``, ``last``: ticks; None: nothing came."""

    stream: str
    output: Mention
    sign: Markup
    count: int
    first: int | None
    last: int | None


@dataclass(frozen=True, slots=True)
class ReplaySection:
    """What the template reads. ``told``: which load it is and up to where it is shown. ``movers``: signs of items."""

    told: tuple[Statement, ...]
    until: int
    own_rate: int
    rates: tuple[int, ...]
    stage: Markup
    waves: Markup
    chart: Markup
    data: Markup
    movers: tuple[tuple[Markup, str], ...]
    totals: tuple[Total, ...]


def replay_section(recording: Recording, words: Words, budget_bytes: int = BUDGET_BYTES) -> ReplaySection:
    """The section of a recorded trial. Linear in the parts and in what happens in the trial."""
    data = replay_data(recording, words, budget_bytes)
    until: int = data["until"]
    own = recording.rules.ticks_per_second
    return ReplaySection(
        told=(*(_load(recording, stream) for stream in recording.layout.streams), extent(recording, until)),
        until=until,
        own_rate=own,
        rates=tuple(sorted({*RATES, own})),
        stage=markup(stage(recording.layout, words)),
        waves=markup(wave_view(recording, words, until)),
        chart=markup(delivered_chart(recording, words, until)),
        data=Markup(json_text(data)),
        movers=tuple((markup(_mover(number)), name) for number, name in enumerate(data["items"])),
        totals=tuple(_totals(recording)),
    )


def extent(recording: Recording, until: int) -> Statement:
    """Up to where the trial is shown, and why no further."""
    end = recording.last_tick
    if until >= end:
        return Statement("replay.whole" if recording.result.at_rest else "replay.whole_no_rest", {"tick": until})
    if until == natural_end(recording):
        return Statement("replay.shortened", {"tick": until, "ticks": TICKS_AFTER_LAST, "end": end})
    return Statement("replay.shortened_by_size", {"tick": until, "end": end})


def _load(recording: Recording, stream: Stream) -> Statement:
    coming = [arrival for arrival in recording.arrivals if arrival.stream == stream.name and arrival.count]
    if not coming:
        return Statement("replay.load_nothing", {"stream": stream.name})
    count = sum(arrival.count for arrival in coming)
    values: dict[str, Value] = {"stream": stream.name, "count": count, "item": ItemWord(stream.item)}
    last = max(arrival.tick for arrival in coming)
    if last:
        return Statement("replay.load_spread", {**values, "tick": last})
    return Statement("replay.load", values)


def _totals(recording: Recording) -> list[Total]:
    return [
        Total(
            stream.name,
            mention(recording.layout, cell),
            markup(output_sign(i)),
            steps[-1][1],
            steps[1][0] if len(steps) > 1 else None,
            steps[-1][0] if len(steps) > 1 else None,
        )
        for stream in recording.layout.streams
        for i, (cell, steps) in enumerate(zip(stream.outputs, recording.delivered[stream.name], strict=True))
    ]


def _mover(number: int) -> Element:
    shape = el("path", class_=f"mover item-{number % len(SHAPES)}", d=SHAPES[number % len(SHAPES)])
    return el("svg", shape, class_="replay-sign", viewBox="-9 -9 18 18", width=18, height=18, aria_hidden="true")
