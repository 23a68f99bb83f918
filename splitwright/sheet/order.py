"""The build order as a sheet shows it: steps in words, layer by layer, with their proof."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from sim.building import BuildStep, build_order, instruction, prove
from sim.layout import Layout
from sim.statement import Statement
from splitwright.sheet.parts_list import most_at_once


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
    return StepLine(step.number, step.layer, instruction(step), tuple(step.why), step.is_temporary)
