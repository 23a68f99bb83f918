"""The build order as a sheet shows it: steps in words, layer by layer, with their proof; then what is filled in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from sim.analysis.building import BuildStep, FillStep, build_order, filling, filling_told, gone_told, instruction, prove
from sim.world.layout import Layout
from sim.world.parts import Holds
from sim.world.rulebook import Rules
from sim.world.statement import ItemWord, Mention, Statement, Value
from splitwright.sheet.parts_list import most_at_once
from splitwright.sheet.repeats import form
from splitwright.words import Words


@dataclass(frozen=True, slots=True)
class StepLine:
    """``what`` is done, and ``why`` it can be (nothing: as the step before, which tells how often)."""

    number: int
    layer: int
    what: Statement
    why: tuple[Statement, ...]
    is_temporary: bool


@dataclass(frozen=True, slots=True)
class FillLine:
    """What is put into a container, and what of it did not stay there in the simulator. Numbered on from the steps."""

    number: int
    what: Statement
    gone: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class FillOnSheet:
    """``outcome``: what the filling led to in the simulator."""

    lines: tuple[FillLine, ...]
    outcome: Statement


@dataclass(frozen=True, slots=True)
class OrderOnSheet:
    """``faults``: what keeps it from being a complete order (none: it is proved). ``temporary``: supports that come
    down again, in all; ``temporary_at_once``: the most that stand at a time. ``fill``: None where all starts empty."""

    steps: tuple[StepLine, ...]
    faults: tuple[Statement, ...]
    temporary: int
    temporary_at_once: int
    fill: FillOnSheet | None

    @property
    def by_layer(self) -> list[tuple[int, list[StepLine]]]:
        """The steps in their order, cut where the layer changes."""
        return [(layer, list(lines)) for layer, lines in groupby(self.steps, key=lambda line: line.layer)]


def order_on_sheet(layout: Layout, base: Rules, words: Words) -> OrderOnSheet:
    """The order of a layout, found and then proved by other code; its filling, tried in the simulator."""
    order = build_order(layout)
    faults = (*order.why_impossible, *([] if order.why_impossible else prove(layout, order.steps)))
    return OrderOnSheet(
        tuple(_lines(order.steps, layout)),
        faults,
        sum(step.is_temporary and step.action == "place" for step in order.steps),
        most_at_once(step.action == "place" if step.is_temporary else None for step in order.steps),
        _fill(layout, base, words, after=len(order.steps)),
    )


def _lines(steps: Iterable[BuildStep], layout: Layout) -> Iterator[StepLine]:
    """A line a step. Of steps that follow each other and differ in their cells alone the first one tells why."""

    def way(step: BuildStep) -> object:
        return step.layer, step.is_temporary, step.action, form((instruction(step, layout), *step.why))

    for _, alike in groupby(steps, key=way):
        first, *others = alike
        same = (Statement("sheet.same_steps", {"count": len(others)}),) if others else ()
        yield _line(first, layout, (*first.why, *same))
        yield from (_line(step, layout, ()) for step in others)


def _line(step: BuildStep, layout: Layout, why: tuple[Statement, ...]) -> StepLine:
    return StepLine(step.number, step.layer, instruction(step, layout), why, step.is_temporary)


def _fill(layout: Layout, base: Rules, words: Words, after: int) -> FillOnSheet | None:
    found = filling(layout, base)
    if found is None:
        return None
    lines = (_fill_line(number, step, words) for number, step in enumerate(found.steps, after + 1))
    return FillOnSheet(tuple(lines), filling_told(found))


def _fill_line(number: int, step: FillStep, words: Words) -> FillLine:
    part = step.container
    values: dict[str, Value] = {"part": Mention(part.kind, part.at), "slots": slots_in_short(part.holds, words)}
    return FillLine(number, Statement("sheet.fill_line", values), gone_told(step))


def slots_in_short(holds: Holds, words: Words) -> str:
    """``4 × 64 clay, 63 clay``: slots in their order, equal ones in a row together; no empty ones at the end."""
    last = max((number for number, slot in enumerate(holds) if slot is not None), default=-1)
    said = []
    for slot, run in groupby(holds[: last + 1]):
        text = (
            words.text("sheet.empty_slot")
            if slot is None
            else words.text("sheet.some", count=slot[1], item=ItemWord(slot[0]))
        )
        times = len(list(run))
        said.append(text if times == 1 else words.text("sheet.some_slots", slots=times, some=text))
    return ", ".join(said)
