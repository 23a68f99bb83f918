"""Batched rows: a burst row with a gate beside it (``gate``), joined from known builds of burst rows."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from math import prod
from typing import Final

from sim.analysis.checks import design_findings
from sim.world.layout import Layout, Stream
from sim.world.parts import Part
from sim.world.rulebook import Rules, default_rules
from sim.world.trial import Arrival, run_trial
from synth.ask.spec import Face
from synth.confirm.confirmation import handovers_to_try
from synth.model.decode import reading_order
from synth.schemes.batched_row import JOINED as BATCHED
from synth.schemes.burst_row import SCHEME as BURST
from synth.schemes.gated_row import fills_up
from synth.search.known.atlas import atlas
from synth.search.known.build import KnownBuild, at_origin
from synth.search.known.constructed import Constructed
from synth.search.known.gate import beside, gate, source_of
from synth.search.known.laid import LaidRows

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
    """Batched rows of that length, the ones with the fewest cells first: those that split in the default world, then
    those that do in each that there may be, of every size of box the first."""
    rules = default_rules()
    handovers = handovers_to_try(rules)
    builds = [build for store in (atlas(), LaidRows()) for build in store.builds(BURST.name, face, outputs)]
    yield from _some(builds, [rules])
    both = [build for build in builds if set(handovers) <= set(build.handovers)]
    yield from _some(both, [rules.with_overrides({"handover": handover}) for handover in handovers])


def _some(builds: Sequence[KnownBuild], worlds: Sequence[Rules]) -> Iterator[Layout]:
    """Gates beside these rows that split in all of these worlds."""
    rows = sorted((at_origin(build.layout) for build in builds), key=lambda row: (prod(row.size), len(row.parts)))
    parts = tuple(gate(builds[0].outputs, worlds[0])) if builds else ()
    places = [
        _Place(row, placed)
        for row in rows[:ROWS_TRIED]
        for placed in beside(row.streams[0].source, row.by_cell.keys(), parts, LONGEST_WAY)
    ]
    sizes: set[tuple[int, ...]] = set()
    for place in sorted(places, key=_Place.rank)[:PLACES_TRIED]:
        size = tuple(sorted(place.size))
        if size not in sizes and len(sizes) < KEPT:
            layout = place.layout()
            (stream,) = layout.streams
            if not design_findings(layout, worlds[0]) and all(
                splits_two_batches(layout, stream, world) for world in worlds
            ):
                sizes.add(size)
                yield layout


def splits_two_batches(layout: Layout, stream: Stream, rules: Rules) -> bool:
    """It does, and keeps the rest, there at once or by and by, in some update orders: where gate and row touch, it does
    not."""
    n, machines = len(stream.outputs), [part.at for part in layout.machines]
    items = 2 * n + fills_up(rules, rules.stack) - 1
    number = layout.streams.index(stream)
    for seed in range(TRIALS):
        rng = random.Random(seed)
        ticks = accumulate(rng.choice(GAPS) if seed else 0 for _ in range(items))
        order = rng.sample(machines, len(machines)) if seed else machines
        load = [Arrival(tick, stream.name, 1) for tick in ticks]
        result = run_trial(layout, load, limit=TICKS_MOST, rules=rules, order=order)
        if not result.at_rest or result.streams[number].delivered != (2,) * n:
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
