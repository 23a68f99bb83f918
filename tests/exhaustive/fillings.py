"""Random fillings of larger boxes: much wiring on many supports, of parts that can stand, read and never latch."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Final

from sim.world.geometry import Cell, step
from sim.world.parts import Gauge, Inverter, Line, Part, Relay
from sim.world.signals.structure import is_solid, read_container

from .choices import BINS, DROP, EMPTY_CELL, FURNACES, GAUGES, HEAD, INVERTERS, LINES, RELAYS, SOLID, TAIL, Choice
from .compare import Comparison, Tally
from .model_side import BoxModel, Size
from .plans import EVERYTHING, REACH, STACK
from .sim_side import is_faced

FILLINGS: Final = 10_000
PARTS_MOST: Final = 10
"""Inverters, relays and gauges in one filling."""
BOXES: Final[tuple[tuple[Size, int, int], ...]] = (
    ((3, 3, 3), REACH, STACK),
    ((4, 3, 4), REACH, STACK),
    ((6, 4, 2), REACH, STACK),
    ((5, 4, 2), 3, STACK),  # a reach that ends within the box
    ((4, 3, 3), 1, STACK),  # one level: what a gauge reads is the full level
    ((4, 3, 3), REACH, 1),  # one item of five reads 3
    ((4, 3, 3), REACH, 2),  # one item of ten reads 2
)
"""Boxes, with the reach and the stack limit that are in force."""
NUMBER: Final = {choice: i for i, choice in enumerate(EVERYTHING)}


def compare_random_fillings(size: Size, reach: int, stack: int, fillings: int) -> Tally:
    """Draw fillings of the box until so many have been compared field by field; those with feedback are compared as
    such and not counted."""
    comparison = Comparison(BoxModel(size, EVERYTHING, reach, PARTS_MOST, stack))
    rng = random.Random(f"{size} {reach} {stack}")
    while comparison.tally.admitted < fillings and not comparison.tally.found:
        placed = random_choices(rng, comparison.model.cells)
        filling = [NUMBER[placed.get(cell, EMPTY_CELL)] for cell in comparison.model.cells]
        comparison.whole(filling, comparison.model.literals(filling))
    return comparison.finish()


def random_choices(rng: random.Random, cells: list[Cell]) -> dict[Cell, Choice]:
    """First what carries and holds, then wiring where it can stand."""
    placed = _solids_and_nodes(rng, cells)
    build: dict[Cell, Part] = {}
    for cell, choice in placed.items():
        build[cell] = choice.part(cell)  # type: ignore[assignment]  # none of these is the empty one
    watched = {cell for cell, choice in placed.items() if choice in (HEAD, TAIL)}
    free = [cell for cell in cells if cell not in placed]
    rng.shuffle(free)
    parts_left = rng.randint(2, PARTS_MOST)
    for cell in free:
        fitting = list(_fitting(build, cell, watched))
        if parts_left == 0:
            fitting = [choice for choice in fitting if choice == LINES]
        if fitting and rng.random() < 0.85:
            words = sorted({choice.word for choice in fitting})
            word = rng.choices(words, [{"line": 4, "gauge": 8}.get(word, 1) for word in words])[0]
            placed[cell] = rng.choice([choice for choice in fitting if choice.word == word])
            build[cell] = placed[cell].part(cell)  # type: ignore[assignment]
            parts_left -= word != "line"
    return placed


def _solids_and_nodes(rng: random.Random, cells: list[Cell]) -> dict[Cell, Choice]:
    solid, node = rng.uniform(0.15, 0.5), rng.uniform(0.03, 0.15)
    weights = [solid, 0.03, node, node, node, 0.02]
    choices = [SOLID, FURNACES, HEAD, TAIL, DROP, BINS]
    return {cell: rng.choices(choices, weights)[0] for cell in cells if rng.random() < sum(weights)}


def _fitting(build: dict[Cell, Part], cell: Cell, watched: set[Cell]) -> Iterator[Choice]:
    """What can stand in the cell, reads T0 or TN if it is a gauge, and latches no relay."""
    for choice in (LINES, *INVERTERS, *RELAYS, *GAUGES):
        part = choice.part(cell)
        match part:
            case Inverter():
                if is_solid(build, step(cell, part.mount)):
                    yield choice
            case Line():
                if is_solid(build, step(cell, "D")):
                    yield choice
            case Relay() | Gauge():
                reads = isinstance(part, Relay) or read_container(build, part) in watched
                if reads and is_solid(build, step(cell, "D")) and not _latches({**build, cell: part}, part):
                    yield choice


def _latches(build: dict[Cell, Part], part: Relay | Gauge) -> bool:
    ahead = build.get(step(part.at, part.output))
    return any(isinstance(relay, Relay) and is_faced(relay, build) for relay in (part, ahead))
