"""The build order as a sheet shows it: steps in words, layer by layer, with their proof."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from sim.building import BuildStep, build_order, prove
from sim.layout import Layout
from sim.parts import Bin, Gauge, Inverter, Node, Relay
from sim.statement import Mention, Statement, Toward
from splitwright.sheet.parts_list import MARKED, most_at_once


@dataclass(frozen=True, slots=True)
class StepLine:
    """``what`` is done, and ``why`` it can be."""

    number: int
    layer: int
    what: Statement
    why: tuple[Statement, ...]
    is_temporary: bool


@dataclass(frozen=True, slots=True)
class OrderOnSheet:
    """``faults``: what keeps it from being a complete order (none: it is proved). ``temporary``: supports that come
    down again, in all; ``temporary_at_once``: the most that stand at a time."""

    steps: tuple[StepLine, ...]
    faults: tuple[Statement, ...]
    temporary: int
    temporary_at_once: int

    @property
    def by_layer(self) -> list[tuple[int, list[StepLine]]]:
        """The steps in their order, cut where the layer changes."""
        return [(layer, list(lines)) for layer, lines in groupby(self.steps, key=lambda line: line.layer)]


def order_on_sheet(layout: Layout) -> OrderOnSheet:
    """The order of a layout, found and then proved by other code."""
    order = build_order(layout)
    faults = (*order.why_impossible, *([] if order.why_impossible else prove(layout, order.steps)))
    return OrderOnSheet(
        tuple(_line(step) for step in order.steps),
        faults,
        sum(step.is_temporary and step.action == "place" for step in order.steps),
        most_at_once(step.action == "place" if step.is_temporary else None for step in order.steps),
    )


def _line(step: BuildStep) -> StepLine:
    return StepLine(step.number, step.layer, _what(step), tuple(step.why), step.is_temporary)


def _what(step: BuildStep) -> Statement:
    """The step in words: with the direction that a part is to have."""
    part = step.part
    there = Mention(part.kind, part.at)
    if step.action == "remove":
        return Statement("step.remove", {"part": there})
    if step.is_temporary:
        return Statement("step.temporary", {"part": there})
    match part:
        case Node():
            return Statement("step.node", {"part": there, "way": Toward(part.outlet)})
        case Inverter():
            return Statement("step.inverter", {"part": there, "way": Toward(part.mount)})
        case Relay():
            return Statement("step.relay", {"part": there, "way": Toward(part.output), "delay": part.delay})
        case Gauge():
            return Statement("step.gauge", {"part": there, "way": Toward(part.output)})
        case Bin() if part.finish == MARKED:
            return Statement("step.marked", {"part": there})
        case _:
            return Statement("step.place", {"part": there})
