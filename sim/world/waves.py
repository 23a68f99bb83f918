"""A trial as a wave file: a value change dump, IEEE Std 1364-2005, section 18 (four-state VCD). Written by pyvcd.

The value at the time of a tick is the state at the end of that tick; time 0 is the state before tick 1, with the load
in. A load put in after tick t shows from tick t + 1 on. Only changes are written.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any, Final, TextIO

from vcd import VCDWriter

from sim.world.geometry import Cell
from sim.world.parts import FURNACE_SLOTS, Gauge
from sim.world.trial import Tally, Trial
from sim.world.world import World

UNITS: Final[dict[str, int]] = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9, "ps": 10**12, "fs": 10**15}
"""Time units of the standard, by how many make a second."""
INEXACT_UNIT: Final = "ns"
LEVEL_BITS_LEAST: Final = 4
COUNT_BITS: Final = 64
"""Width of item counts: a bin's room can exceed 32 bits (2^20 slots of 2^20 items)."""


@dataclass(frozen=True, slots=True)
class TimeBase:
    """How ticks become times: whole ``unit``s, rounded down where a tick is no whole number of any unit."""

    unit: str
    ticks_per_second: int

    @classmethod
    def of(cls, ticks_per_second: int) -> TimeBase:
        """The coarsest unit of which a tick is a whole number (20 ticks a second: 50 ms), else nanoseconds."""
        exact = (unit for unit, a_second in UNITS.items() if a_second % ticks_per_second == 0)
        return cls(next(exact, INEXACT_UNIT), ticks_per_second)

    def time(self, tick: int) -> int:
        """The time of a tick, in units."""
        return tick * UNITS[self.unit] // self.ticks_per_second


@dataclass(frozen=True, slots=True)
class Wave:
    """One variable of the file: ``scope.name``, its type and width in bits, and how its present value is read."""

    scope: str
    name: str
    var_type: str
    bits: int
    read: Callable[[], int]


class WaveWriter:
    """A watcher of ``trial`` that writes every change to ``file``. ``close`` ends the file at the trial's last tick.

    Variables, a scope each family: ``lines`` and ``gauges`` (levels), ``relays``, ``inverters``, ``locked`` (1 or 0),
    ``items`` (how many each container holds; of a furnace, each slot), ``delivered`` (per stream and output).
    Time: linear in the variables, each time it is called.
    """

    def __init__(self, file: TextIO, trial: Trial) -> None:
        self._world = trial.world
        self._base = TimeBase.of(self._world.rules.ticks_per_second)
        self._writer = VCDWriter(
            file,
            timescale=f"1 {self._base.unit}",
            date="",  # the same trial makes the same file
            comment=f"{self._base.ticks_per_second} ticks are 1 s; each value is that at the end of its tick",
            version="splitwright",
        )
        self._waves: list[tuple[Any, Callable[[], int]]] = [
            (self._writer.register_var(wave.scope, wave.name, wave.var_type, size=wave.bits), wave.read)
            for wave in waves_of(trial)
        ]

    def __call__(self, world: World) -> None:
        """Write what has changed by the end of the present tick."""
        time = self._base.time(world.tick)
        for variable, read in self._waves:
            self._writer.change(variable, time, read())

    def close(self) -> None:
        """End the file at the world's present tick; ``file`` itself stays open."""
        self._writer.close(self._base.time(self._world.tick))


def waves_of(trial: Trial) -> Iterator[Wave]:
    """Every variable of a trial, family by family, each in file order."""
    world = trial.world
    yield from _signal_waves(world)
    for cell, node in world.nodes.items():
        yield Wave("locked", identifier("locked", cell), "wire", 1, partial(_is_locked, world, node.number))
    yield from _item_waves(world)
    for number, tally in enumerate(trial.tallies.values()):
        yield from _delivered_waves(number, tally)


def identifier(word: str, cell: Cell, *more: str) -> str:
    """``line_3_1_0``: letters, digits and underscores only, as the standard's simple identifiers."""
    return "_".join([re.sub(r"\W", "_", word, flags=re.ASCII), *map(str, cell), *more])


def _signal_waves(world: World) -> Iterator[Wave]:
    field = world.field
    bits = max(LEVEL_BITS_LEAST, field.reach.bit_length())
    for i, cell in enumerate(field.wiring.lines):
        yield Wave("lines", identifier("line", cell), "wire", bits, partial(field.level.__getitem__, i))
    for i, part in enumerate(field.wiring.parts):
        name = identifier(part.kind, part.at)
        if isinstance(part, Gauge):
            yield Wave("gauges", name, "wire", bits, partial(field.out.__getitem__, i))
        else:
            yield Wave(f"{part.kind}s", name, "wire", 1, partial(_is_on, field.out, i))


def _item_waves(world: World) -> Iterator[Wave]:
    for part in world.layout.containers:
        counts = world.stores[part.at].counts
        if part.at not in world.furnaces:
            yield Wave("items", identifier(part.kind, part.at), "integer", COUNT_BITS, partial(sum, counts))
            continue
        for slot, word in enumerate(FURNACE_SLOTS):
            name = identifier(part.kind, part.at, word)
            yield Wave("items", name, "integer", COUNT_BITS, partial(counts.__getitem__, slot))


def _delivered_waves(number: int, tally: Tally) -> Iterator[Wave]:
    """Streams are numbered, because two names may differ only in what an identifier cannot hold."""
    for i, cell in enumerate(tally.stream.outputs):
        name = identifier(f"stream{number}_{tally.stream.name}_to", cell)
        yield Wave("delivered", name, "integer", COUNT_BITS, partial(tally.delivered.__getitem__, i))


def _is_locked(world: World, node: int) -> int:
    return int(world.field.locked[node])


def _is_on(out: list[int], part: int) -> int:
    return int(out[part] > 0)
