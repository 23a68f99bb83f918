"""The table of a comparison: one row a layout, each cell with what is shown and what it is sorted by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sim.world.trial import Outcome
from splitwright.cli.measuring import OUTCOME_PHRASES
from splitwright.compare.comparison import Compared, Comparison, Standing
from splitwright.words import Words

_OUTCOMES: tuple[Outcome, ...] = ("even", "unfinished", "uneven", "nothing")
_STANDINGS: tuple[Standing, ...] = ("front", "beaten", "apart")


@dataclass(frozen=True, slots=True)
class Cell:
    """``key``: what a script sorts by, a number as JSON writes it, or text ("": stands last whichever the order)."""

    text: str
    key: str


@dataclass(frozen=True, slots=True)
class Column:
    """``name``: of the column, for scripts and tests. ``is_number``: its cells are sorted as numbers."""

    name: str
    heading: str
    is_number: bool = True


@dataclass(frozen=True, slots=True)
class Row:
    """One layout; ``cells``: behind its number and its title, a cell a column."""

    entry: Compared
    title: str
    cells: tuple[tuple[Column, Cell], ...]


def rows_of(comparison: Comparison, words: Words) -> list[Row]:
    """The rows, by rank."""
    return [
        Row(entry, title_of(entry, words), tuple(_cells(comparison, entry, standing, words)))
        for entry, standing in zip(comparison.entries, comparison.standings, strict=True)
    ]


def title_of(entry: Compared, words: Words) -> str:
    """What the layout is called."""
    return entry.layout.title or words.text("sheet.untitled")


def _cells(
    comparison: Comparison, entry: Compared, standing: Standing, words: Words
) -> Iterator[tuple[Column, Cell]]:
    built = entry.built
    outputs = " + ".join(map(words.number, entry.outputs)) or words.text("compare.no_value")
    yield Column("outputs", words.text("compare.outputs")), Cell(outputs, str(sum(entry.outputs)))
    for name, value in (("volume", built.volume), ("footprint", built.footprint)):
        yield Column(name, words.text(f"measure.{name}")), _number(value, words)
    yield Column("height", words.text("compare.height")), _number(built.height, words)
    yield Column("parts", words.text("measure.parts")), _number(built.parts, words)
    if comparison.priced:
        yield Column("price", words.text("measure.price")), _number(built.price, words)
    yield Column("latency", words.text("compare.latency")), _number(entry.latency, words)
    yield Column("throughput", words.text(f"compare.{comparison.rate}")), _number(entry.throughput, words)
    if comparison.rate == "items":
        yield Column("steady", words.text("compare.steady")), _number(entry.steady, words)
    yield Column("held", words.text("compare.held")), _number(entry.held, words)
    for handover in comparison.handovers:
        run = next((run for run in entry.runs if run.handover == handover), None)
        cell = Cell(words.text("compare.no_value"), "") if run is None else _outcome(run.outcome, words)
        yield Column(f"handover-{handover}", words.text("compare.handover", handover=handover)), cell
    told = words.text(f"compare.standing_{standing}")
    yield Column("front", words.text("compare.front")), Cell(told, str(_STANDINGS.index(standing)))


def _number(value: float | None, words: Words) -> Cell:
    if value is None:
        return Cell(words.text("compare.no_value"), "")
    return Cell(words.number(value), str(round(value, 1)))


def _outcome(outcome: Outcome, words: Words) -> Cell:
    return Cell(words.text(OUTCOME_PHRASES[outcome]), str(_OUTCOMES.index(outcome)))
