"""The measures of a sheet, as names and values in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sim.world.trial import StreamResult
from splitwright.cli.measuring import OUTCOME_PHRASES, LayoutMeasures
from splitwright.words import Words
from synth.confirm.built import Built


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
    for name, cells in (("volume", built.volume), ("footprint", built.footprint)):
        value = words.text(f"measure.{name}_value", n=cells, cells=words.part("cell", cells))
        yield Measure(words.text(f"measure.{name}"), value)
    yield Measure(words.text("measure.parts"), words.number(built.parts))
    if priced:
        yield Measure(words.text("measure.price"), words.number(built.price))


def running_measures(measures: LayoutMeasures, ticks_per_second: int, words: Words) -> Iterator[Measure]:
    """Those of trials: arrivals, flow, what stays inside, how the default load comes out under each handover."""
    if measures.latency is not None:
        yield latency_measure(measures.latency, ticks_per_second, words)
    for name, rate in measures.steady.items():
        yield Measure(words.text("measure.steady", name=name), words.text("measure.steady_value", n=round(rate)))
    if measures.throughput is not None:
        yield whole_load_measure(measures.throughput, words)
    yield Measure(words.text("measure.held"), words.text("measure.held_value", n=measures.held))
    for run in measures.runs:
        name = words.text("measure.handover", load=run.per_target, handover=run.handover)
        yield Measure(name, words.text(OUTCOME_PHRASES[run.outcome]))


def latency_measure(latency: int, ticks_per_second: int, words: Words) -> Measure:
    """The last arrival of one item a target."""
    seconds = words.number(latency / ticks_per_second, 2)
    return Measure(words.text("measure.latency"), words.text("measure.latency_value", ticks=latency, seconds=seconds))


def whole_load_measure(throughput: float, words: Words) -> Measure:
    """Items an hour over the default load, which is less than in steady flow: the first item has to arrive."""
    return Measure(words.text("compare.whole_load"), words.text("measure.steady_value", n=round(throughput)))


def came(delivered: Sequence[int], words: Words) -> str:
    """What of one stream came to each of its outputs."""
    if not any(delivered):
        return words.text("sheet.trial_nothing")
    if len(set(delivered)) == 1:
        return words.text("sheet.trial_even", each=delivered[0])
    return words.text("sheet.trial_spread", delivered=" / ".join(map(words.number, delivered)))


def fairness_measures(streams: Sequence[StreamResult], words: Words) -> Iterator[Measure]:
    """How fair the trial was that the sheet shows; a stream that delivered nothing was neither fair nor unfair."""
    for stream in streams:
        delivers = any(stream.delivered)
        jain = words.number(float(stream.jain), 3) if delivers else words.text("compare.no_value")
        yield Measure(words.text("measure.jain", name=stream.name), jain)
        if not delivers:
            lag = words.text("compare.no_value")
        elif stream.largest_lag_tick is None:
            lag = words.text("measure.lag_none")
        else:
            lag = words.text("measure.lag_value", n=stream.largest_lag, tick=stream.largest_lag_tick)
        yield Measure(words.text("measure.lag", name=stream.name), lag)
