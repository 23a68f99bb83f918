"""Batched rows: a burst row with a gate beside it (``gate``), joined from known builds of burst rows."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import accumulate
from math import prod
from typing import Final

from sim.checks import design_findings
from sim.layout import Layout
from sim.parts import Part
from sim.rulebook import Rules, default_rules
from sim.trial import Arrival, run_trial
from synth.confirm import handovers_to_try
from synth.decode import reading_order
from synth.known.atlas import atlas
from synth.known.build import at_origin
from synth.known.constructed import Constructed
from synth.known.gate import beside, gate, source_of
from synth.known.laid import LaidRows
from synth.schemes.batched_row import JOINED as BATCHED
from synth.schemes.burst_row import SCHEME as BURST
from synth.schemes.gated_row import fills_up
from synth.spec import Face

LONGEST_WAY: Final = 4
"""Nodes between the gate and the bin that it feeds that are tried."""
ROWS_TRIED: Final = 12
"""Known rows that a gate is put beside, the ones with the fewest cells first."""
PLACES_TRIED: Final = 60
"""Places of a gate beside a row that are run in the simulator, at the most."""
KEPT: Final = 4
"""Layouts that are right in the default world, and as many that are under every handover; of these no two take a box of
one size."""
TRIALS: Final = 6
"""Of each: one of a load that is there at once, in the file's order; the others by and by, in orders at random."""
GAPS: Final = (1, 7, 8, 9, 16, 40)
TICKS_MOST: Final = 5_000
"""Of a trial in which two batches are split."""


class BatchedRows(Constructed):
    """All that can be joined."""

    def made(self, scheme: str, face: Face, outputs: int) -> Iterator[tuple[str, Layout]]:
        """The smallest boxes first."""
        if scheme == BATCHED.name:
            yield from (("joined from a gate and a burst row", one) for one in batched(face, outputs))


def batched(face: Face, outputs: int) -> Iterator[Layout]:
    """Batched rows of that length, the ones with the fewest cells first: those that split in the default world, and
    those that do in each there may be, of every size of box the first."""
    rows = [build.layout for store in (atlas(), LaidRows()) for build in store.builds(BURST.name, face, outputs)]
    rows = sorted(map(at_origin, rows), key=lambda row: (prod(row.size), len(row.parts)))[:ROWS_TRIED]
    rules = default_rules()
    others = [rules.with_overrides({"handover": handover}) for handover in handovers_to_try(rules)[1:]]
    parts = tuple(gate(outputs, rules))
    places = [
        _Place(row, placed)
        for row in rows
        for placed in beside(row.streams[0].source, row.by_cell.keys(), parts, LONGEST_WAY)
    ]
    some, every = _Sizes(), _Sizes(KEPT if outputs <= rules.period else 0)  # longer rows are right under one alone
    for place in sorted(places, key=_Place.rank)[:PLACES_TRIED]:
        size = tuple(sorted(place.size))
        if not (some.wants(size) or every.wants(size)):
            continue
        layout = place.layout()
        works = not design_findings(layout, rules) and _works(layout, rules)
        new = [works and some.takes(size)]
        if works and every.wants(size):
            new.append(all(_works(layout, world) for world in others) and every.takes(size))
        if any(new):
            yield layout


@dataclass
class _Sizes:
    """Sizes of boxes, each once, ``most`` at the most."""

    most: int = KEPT
    taken: set[tuple[int, ...]] = field(default_factory=set)

    def wants(self, size: tuple[int, ...]) -> bool:
        """There is room for it, and it is not there yet."""
        return len(self.taken) < self.most and size not in self.taken

    def takes(self, size: tuple[int, ...]) -> bool:
        """It is put in, if it is wanted."""
        wanted = self.wants(size)
        if wanted:
            self.taken.add(size)
        return wanted


def _works(layout: Layout, rules: Rules) -> bool:
    """It splits two batches and keeps the rest, there at once or by and by, in some update orders: where gate and row
    touch, it does not."""
    (stream,) = layout.streams
    n, machines = len(stream.outputs), [part.at for part in layout.machines]
    items = 2 * n + fills_up(rules, rules.stack) - 1
    for seed in range(TRIALS):
        rng = random.Random(seed)
        ticks = accumulate(rng.choice(GAPS) if seed else 0 for _ in range(items))
        order = rng.sample(machines, len(machines)) if seed else machines
        load = [Arrival(tick, stream.name, 1) for tick in ticks]
        result = run_trial(layout, load, limit=TICKS_MOST, rules=rules, order=order)
        if not result.at_rest or result.streams[0].delivered != (2,) * n:
            return False
    return True


@dataclass(frozen=True, slots=True)
class _Place:
    """A row, and the parts of a gate where they stand beside it, with the nodes from it to the row's bin."""

    row: Layout
    added: tuple[Part, ...]

    @property
    def size(self) -> tuple[int, int, int]:
        """Of the box around both."""
        cells = [*self.row.by_cell, *(part.at for part in self.added)]
        width, depth, height = (max(along) - min(along) + 1 for along in zip(*cells, strict=True))
        return width, depth, height

    def rank(self) -> tuple[int, int]:
        """Cells of the box, parts."""
        return prod(self.size), len(self.row.parts) + len(self.added)

    def layout(self) -> Layout:
        """Both together."""
        (stream,) = self.row.streams
        parts = sorted((*self.row.parts, *self.added), key=lambda part: reading_order(part.at))
        streams = (replace(stream, source=source_of(self.added)),)
        return at_origin(replace(self.row, parts=tuple(parts), streams=streams))
