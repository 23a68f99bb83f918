"""The hall at work: a world in the kernel with meters on its furnaces, and hands that put in, take out and count."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sim.analysis.production import metering
from sim.analysis.production.metering import COLUMNS, Counts
from sim.analysis.production.snapshot import carried_over, without
from sim.world.geometry import Cell
from sim.world.kernel.run import Run
from sim.world.kernel.tables import Tables
from sim.world.parts import Bin, Furnace, Slot

Contents = Mapping[Cell, tuple[Slot | None, ...]]


@dataclass(frozen=True, slots=True)
class Event:
    """Something done or noticed at the end of a tick."""

    tick: int
    text: str


@dataclass(frozen=True, slots=True)
class Sample:
    """The meters at the end of a tick: a row for each furnace of the hall, and the items that came to each bin."""

    tick: int
    meters: Counts
    came: Mapping[Cell, int]


class Floor:
    """One run of a hall. Furnaces keep their row in the meters, also when one of them is taken away.

    ``put_in``, ``taken_out``: what hands did, by kind; ``at_start``: what was inside before them.
    """

    def __init__(self, tables: Tables) -> None:
        self.run = Run(tables)
        self.furnaces = tuple(part.at for part in tables.layout.parts if isinstance(part, Furnace))
        self.meters: Counts = np.zeros((len(self.furnaces), COLUMNS), np.int64)
        self.fired: Counts = np.zeros((len(self.furnaces), len(tables.kinds)), np.int64)
        self.lit: Counts = np.zeros_like(self.fired)
        self.at_start = total(self.run.contents())
        self.put_in: Counter[str] = Counter()
        self.taken_out: Counter[str] = Counter()
        self.events: list[Event] = []
        self.gone: dict[Cell, int] = {}
        self._kinds = tables.kinds
        self._bins = tuple(part.at for part in tables.layout.parts if isinstance(part, Bin))
        self._balance: Counter[Cell] = Counter({at: -sum_of(slots) for at, slots in self.run.contents().items()})
        self._delivered: dict[tuple[str, Cell], int] = {}
        self._begun = False

    @property
    def tick(self) -> int:
        """The tick whose end the hall stands at."""
        return self.run.tick

    def contents(self) -> Contents:
        """What each container holds, slot by slot."""
        return self.run.contents()

    def put(self, cell: Cell, kind: str, count: int) -> int:
        """Put items in by hand; how many found room."""
        done = self.run.put(cell, kind, count)
        self.put_in[kind] += done
        self._balance[cell] -= done
        return done

    def take_all(self, cell: Cell) -> Counter[str]:
        """Take everything out of a container by hand; what that was."""
        taken = total({cell: self.contents()[cell]})
        t, run = self.run.tables, self.run
        metering.take_out(t.w, run.s, run.x, t.store_no[cell])
        if self._begun:
            metering.notice_now(t.w, run.s, run.x, run.m)
        self.taken_out += taken
        self._balance[cell] += sum(taken.values())
        return taken

    def remove(self, cell: Cell) -> Counter[str]:
        """Take a furnace away, with what it holds (counted as taken out); the cell is empty from now on."""
        taken = total({cell: self.contents()[cell]})
        self.taken_out += taken
        self._delivered |= self.delivered()
        self.run = carried_over(self.run, without(self.run.tables.layout, cell))
        self.gone[cell] = self.tick
        return taken

    def advance_to(self, tick: int) -> None:
        """Work on to the end of a tick."""
        run, t = self.run, self.run.tables
        run.start()
        self._begun = True
        numbers = {cell: i for i, cell in enumerate(self.furnaces)}
        rows = np.array([numbers[cell] for cell in t.machines[len(t.wiring.nodes) :]], np.int32)
        metering.metered_ticks(t.w, run.s, run.x, run.m, run.order, rows, self.meters, self.fired, self.lit, tick)

    def fires(self) -> int:
        """Furnaces that burn now."""
        return int(metering.fires(self.run.tables.w, self.run.s))

    def sample(self) -> Sample:
        """The meters as they stand."""
        contents = self.contents()
        came = {at: self._balance[at] + sum_of(contents[at]) for at in self._bins}
        return Sample(self.tick, self.meters.copy(), came)

    def tell(self, text: str) -> None:
        """Note an event at the present tick."""
        self.events.append(Event(self.tick, text))

    def delivered(self) -> dict[tuple[str, Cell], int]:
        """Items of each stream's kind that have entered each of its outputs."""
        now = {
            (stream.name, cell): count
            for stream, counts in zip(self.run.tables.layout.streams, self.run.delivered(), strict=True)
            for cell, count in zip(stream.outputs, counts, strict=True)
        }
        return self._delivered | now

    def used(self, counts: Counts) -> Counter[str]:
        """The sum of ``fired`` or ``lit`` over the furnaces, by kind."""
        sums = counts.sum(axis=0)
        return Counter({kind: int(sums[i]) for i, kind in enumerate(self._kinds) if sums[i]})


def total(contents: Contents) -> Counter[str]:
    """All items, by kind."""
    counts: Counter[str] = Counter()
    for slots in contents.values():
        for slot in slots:
            if slot is not None:
                counts[slot[0]] += slot[1]
    return counts


def sum_of(slots: tuple[Slot | None, ...]) -> int:
    """Items in a container, of whatever kind."""
    return sum(slot[1] for slot in slots if slot is not None)
