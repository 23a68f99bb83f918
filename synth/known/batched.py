"""Batched rows: a burst row with a gate beside it (``gate``), joined from known builds of burst rows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
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
from synth.schemes.scheme import common_windows
from synth.spec import Face

LONGEST_WAY: Final = 4
"""Nodes between the gate and the bin that it feeds that are tried."""
ROWS_TRIED: Final = 12
"""Known rows that a gate is put beside, the ones with the fewest cells first."""
PLACES_TRIED: Final = 60
"""Places of a gate beside a row that are run in the simulator, at the most."""
KEPT: Final = 4
"""Layouts that are right under some handover, and as many that are under all; no two of them take a box of one size."""
TICKS_MOST: Final = 5_000
"""Of a trial in which two batches are split."""


class BatchedRows(Constructed):
    """All that can be joined."""

    def made(self, scheme: str, face: Face, outputs: int) -> Iterator[tuple[str, Layout]]:
        """The smallest boxes first."""
        if scheme == BATCHED.name:
            yield from (("joined from a gate and a burst row", one) for one in batched(face, outputs))


def batched(face: Face, outputs: int) -> Iterator[Layout]:
    """Batched rows of that length, the ones with the fewest cells first: those that split under some handover, and
    those that do under each that a world may have, of every size of box the first."""
    rows = [build.layout for store in (atlas(), LaidRows()) for build in store.builds(BURST.name, face, outputs)]
    rows = sorted(map(at_origin, rows), key=lambda row: (prod(row.size), len(row.parts)))[:ROWS_TRIED]
    rules = default_rules()
    worlds = [rules.with_overrides({"handover": handover}) for handover in handovers_to_try(rules)]
    parts = tuple(gate(outputs, rules))
    places = [
        _Place(row, placed)
        for row in rows
        for placed in beside(row.streams[0].source, row.by_cell.keys(), parts, LONGEST_WAY)
    ]
    some, every = _Sizes(), _Sizes(KEPT if _works_in_every_world(outputs, rules) else 0)
    for place in sorted(places, key=_Place.rank)[:PLACES_TRIED]:
        size = tuple(sorted(place.size))
        if not (some.wants(size) or every.wants(size)):
            continue
        layout = place.layout()
        works = [] if design_findings(layout, rules) else [_works(layout, world) for world in worlds]
        new = [any(works) and some.takes(size), bool(works) and all(works) and every.takes(size)]
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


def _works_in_every_world(outputs: int, rules: Rules) -> bool:
    """Some delays are right for a burst row of that length whatever the handover."""
    windows = common_windows(BURST, rules, outputs, handovers_to_try(rules)).values()
    return all(window.least <= window.most for window in windows)


def _works(layout: Layout, rules: Rules) -> bool:
    """It splits two batches and keeps the rest: where signals of gate and row touch, it does not."""
    (stream,) = layout.streams
    n = len(stream.outputs)
    items = 2 * n + fills_up(rules, rules.stack) - 1
    result = run_trial(layout, [Arrival(0, stream.name, items)], limit=TICKS_MOST, rules=rules)
    return result.at_rest and result.streams[0].delivered == (2,) * n


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
