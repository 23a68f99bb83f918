"""Small worlds for tests: a layout drawn as text, what its signals show, and the whole trace of what changes in it.

A drawing lists layers from the ground up, parted by ``/``; in a layer, rows from north to south, parted by ``;``; in
a row, cells as in a plan: ``. # B B* F - nE iS r2W gN``. So ``"B gE - / nE . ."`` is one row of three cells, two layers
high.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from oracle.naive import Document
from oracle.random_builds import random_case, random_layout
from sim.world.files.layout_json import layout_from_json
from sim.world.files.plan import layout_from_plan
from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.parts import Furnace, Gauge, Inverter, Line, Node, Relay, Support
from sim.world.trial import Arrival, Trial, TrialResult
from sim.world.world import World

BRICKYARD = """
item clay stack 64 fires-to brick
item charcoal stack 64 burn 1600
item brick stack 64
"""
MOST_TICKS = 20_000


def drawn(drawing: str, lines: str = "") -> Layout:
    """The layout of a drawing. ``lines``: further lines of a plan (holds, rule, stream, item, order)."""
    layers = [f"layer {z}\n" + layer.replace(";", "\n") for z, layer in enumerate(drawing.split("/"))]
    items = "\n".join(line for line in BRICKYARD.splitlines() if line.rpartition(" stack")[0] not in lines)
    return layout_from_plan("\n".join(["splitwright-plan/1", items, lines, *layers]))


def random_run(rng: random.Random) -> tuple[Layout, Document]:
    """A random build and how to run it (``loads``, ``every``, ``order``); the layout states its handover."""
    document = random_layout(rng)
    case = random_case(rng, document)
    return built(document, case), case


def built(document: Document, case: Document) -> Layout:
    """The layout of a document, under the handover of a case of the oracle's."""
    layout = layout_from_json(document)
    if case["handover"] is None:
        return layout
    return replace(layout, rules={**layout.rules, "handover": case["handover"]})


def shown(world: World) -> str:
    """A drawing of the signals: a line's or gauge's level, 1 or 0 for a relay that is on or an inverter that is lit,
    ``*`` for an energised solid cell, ``L`` for a locked node, ``.`` for anything else."""
    width, depth, height = world.layout.size
    layers = [
        " ; ".join(" ".join(_shown_cell(world, (x, y, z)) for x in range(width)) for y in reversed(range(depth)))
        for z in range(height)
    ]
    return " / ".join(layers)


def _shown_cell(world: World, cell: Cell) -> str:
    field_, wiring = world.field, world.field.wiring
    match world.layout.by_cell.get(cell):
        case Line():
            return str(field_.level[wiring.lines.index(cell)])
        case Gauge():
            return str(field_.out[_part_number(world, cell)])
        case Relay() | Inverter():
            return str(int(field_.out[_part_number(world, cell)] > 0))
        case Support() | Furnace():
            return "*" if field_.energised[wiring.solids.index(cell)] else "."
        case Node():
            return "L" if field_.locked[wiring.nodes.index(cell)] else "."
        case _:
            return "."


def _part_number(world: World, cell: Cell) -> int:
    return next(i for i, part in enumerate(world.field.wiring.parts) if part.at == cell)


def normal(drawing: str) -> str:
    """A drawing with single blanks."""
    return " ".join(drawing.split())


Change = tuple[int, Cell, str]
"""Tick, cell and what is then there: ``clay 2 | . | brick 1`` for contents (slot by slot, without empty ones at the
end), ``= 15`` for a signal part (a gauge's level, else 1 or 0)."""


@dataclass
class Trace:
    """A watcher that notes every change, in the order of ticks and, within one, of ``parts``."""

    changes: list[Change] = field(default_factory=list)
    before: dict[Cell, str] = field(default_factory=dict)

    def __call__(self, world: World) -> None:
        now = {part.at: _state(world, part.at) for part in world.layout.parts if _changes(part)}
        if self.before:
            self.changes += [(world.tick, cell, state) for cell, state in now.items() if state != self.before[cell]]
        self.before = now


def told(changes: Iterable[Change]) -> list[str]:
    """``9: 1,0,0 clay 2`` or ``3: 2,0,0 = 15``, a line for each change."""
    return [f"{tick}: {cell_text(cell)} {state}" for tick, cell, state in changes]


def _changes(part: object) -> bool:
    return not isinstance(part, (Line, Support))


def _state(world: World, cell: Cell) -> str:
    if cell in world.stores:
        slots = [f"{slot[0]} {slot[1]}" if slot else "." for slot in world.stores[cell].slots()]
        while len(slots) > 1 and slots[-1] == ".":
            slots.pop()
        return " | ".join(slots)
    return "= " + _shown_cell(world, cell)


def traced(
    layout: Layout,
    arrivals: Iterable[Arrival] = (),
    *,
    order: Sequence[Cell] | None = None,
    skip: bool = True,
    ticks: int | None = None,
) -> tuple[list[Change], TrialResult]:
    """Every change and the result of a run until rest, or for ``ticks``."""
    trace = Trace()
    trial = Trial(layout, order=order, watchers=(trace,), skip=skip)
    return trace.changes, trial.run(arrivals, ticks=ticks, limit=MOST_TICKS)
