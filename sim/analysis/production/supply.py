"""What a hall is supplied with: which streams are feed and which fuel, and how often hands must come round."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from sim.analysis.production.floor import Floor
from sim.analysis.production.lines import reached_from, ways_of
from sim.world.geometry import Cell, step
from sim.world.layout import Layout, Stream
from sim.world.parts import Furnace, Node
from sim.world.rulebook import Rules

Role = Literal["feed", "fuel", "other"]
SECONDS_A_MINUTE: Final = 60


@dataclass(frozen=True, slots=True)
class Inlet:
    """A stream and what it is for: ``feed`` comes into furnaces from above, ``fuel`` from a side."""

    stream: Stream
    role: Role

    @property
    def source(self) -> Cell:
        """The cell of its source bin."""
        return self.stream.source


def inlets_of(layout: Layout) -> tuple[Inlet, ...]:
    """Every stream with its role: the face of its outputs that nodes which its items come to push into."""
    return tuple(Inlet(stream, _role(layout, stream)) for stream in layout.streams)


def _role(layout: Layout, stream: Stream) -> Role:
    furnaces = {cell for cell in stream.outputs if isinstance(layout.by_cell.get(cell), Furnace)}
    every = [part.at for part in layout.parts if isinstance(part, Furnace)]
    faces = set()
    for cell in reached_from(ways_of(layout), [stream.source], every):
        part = layout.by_cell[cell]
        if isinstance(part, Node) and step(cell, part.outlet) in furnaces:
            faces.add("feed" if part.outlet == "D" else "fuel")
    if "feed" in faces:
        return "feed"
    return "fuel" if faces else "other"


def bin_room(layout: Layout, rules: Rules, kind: str) -> int:
    """Items of a kind that an empty bin has room for."""
    rules = layout.rules_in_force(rules)
    return rules.bin_slots * layout.stack_limit(rules)(kind)


def refill_minutes(layout: Layout, rules: Rules) -> int:
    """Whole minutes between two visits, so that no bin runs dry or full between them: a node takes one item a period.

    At least 1: a bin that lasts for less than a minute is filled each minute.
    """
    kinds = {stream.item for stream in layout.streams} | {
        item.fires_to for item in layout.items.values() if item.fires_to is not None
    }
    rules = layout.rules_in_force(rules)
    ticks = min((bin_room(layout, rules, kind) for kind in kinds), default=1) * rules.period
    return max(1, ticks // (SECONDS_A_MINUTE * rules.ticks_per_second))


def fill(floor: Floor, inlet: Inlet, most: int | None = None) -> int:
    """Fill a source bin to the brim, or with ``most`` items; how many found room."""
    tables = floor.run.tables
    most = bin_room(tables.layout, tables.base, inlet.stream.item) if most is None else most
    return floor.put(inlet.source, inlet.stream.item, most)
