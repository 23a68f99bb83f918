"""The measures of a sheet, as names and values in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sim.trial import StreamResult
from splitwright.measuring import OUTCOME_PHRASES, LayoutMeasures
from splitwright.words import Words
from synth.built import Built


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure, ready to be read."""

    name: str
    value: str


def built_measures(built: Built, words: Words, *, priced: bool) -> Iterator[Measure]:
    """Those that the layout alone tells."""
    width, depth, height = built.box
    box = words.text("measure.box_value", width=width, depth=depth, height=height)
    yield Measure(words.text("measure.box"), box)
    yield Measure(words.text("measure.volume"), words.text("measure.volume_value", n=built.volume))
    yield Measure(words.text("measure.footprint"), words.text("measure.footprint_value", n=built.footprint))
    yield Measure(words.text("measure.parts"), words.number(built.parts))
    if priced:
        yield Measure(words.text("measure.price"), words.number(built.price))


def running_measures(measures: LayoutMeasures, ticks_per_second: int, words: Words) -> Iterator[Measure]:
    """Those of trials: arrivals, flow, what stays inside, how the default load comes out under each handover."""
    if measures.latency is not None:
        seconds = words.number(measures.latency / ticks_per_second, 2)
        value = words.text("measure.latency_value", ticks=measures.latency, seconds=seconds)
        yield Measure(words.text("measure.latency"), value)
    for name, rate in measures.steady.items():
        yield Measure(words.text("measure.steady", name=name), words.text("measure.steady_value", n=round(rate)))
    yield Measure(words.text("measure.held"), words.text("measure.held_value", n=measures.held))
    for run in measures.runs:
        name = words.text("measure.handover", handover=run.handover)
        yield Measure(name, words.text(OUTCOME_PHRASES[run.outcome]))


def fairness_measures(streams: Sequence[StreamResult], words: Words) -> Iterator[Measure]:
    """How fair the trial was that the sheet shows."""
    for stream in streams:
        yield Measure(words.text("measure.jain", name=stream.name), words.number(float(stream.jain), 3))
        if stream.largest_lag_tick is None:
            lag = words.text("measure.lag_none")
        else:
            lag = words.text("measure.lag_value", n=stream.largest_lag, tick=stream.largest_lag_tick)
        yield Measure(words.text("measure.lag", name=stream.name), lag)
