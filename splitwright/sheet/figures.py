"""The measures of a sheet, as names and values in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.recording import Recording
from splitwright.words import Words
from synth.built import Built

if TYPE_CHECKING:
    from sim.assure.figures import Figures


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


def latency_measure(round_of_one: Recording, words: Words) -> Iterator[Measure]:
    """The last arrival of one item an output, there at once."""
    arrivals = [stream.last_arrival for stream in round_of_one.result.streams if stream.last_arrival is not None]
    if arrivals:
        seconds = words.number(max(arrivals) / round_of_one.rules.ticks_per_second, 2)
        value = words.text("measure.latency_value", ticks=max(arrivals), seconds=seconds)
        yield Measure(words.text("measure.latency"), value)


def running_measures(figures: Figures, ticks_per_second: int, words: Words) -> Iterator[Measure]:
    """Those of a run of the default load and of steady flow, under the handover in force."""
    for one in figures.steady or ():
        hourly = one.items * ticks_per_second * 3600 / one.ticks
        value = words.text("measure.steady_value", n=round(hourly))
        yield Measure(words.text("measure.steady", name=one.stream), value)
    for fair in figures.fairness:
        yield Measure(words.text("measure.jain", name=fair.stream), words.number(float(fair.jain), 3))
        if fair.largest_lag_tick is None:
            lag = words.text("measure.lag_none")
        else:
            lag = words.text("measure.lag_value", n=fair.largest_lag, tick=fair.largest_lag_tick)
        yield Measure(words.text("measure.lag", name=fair.stream), lag)
    held = sum(count for _, count in figures.held)
    yield Measure(words.text("measure.held"), words.text("measure.held_value", n=held))
