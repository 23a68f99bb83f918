"""Feed and fuel come by and by, in lumps of a few with gaps at random, and for a while not at all."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Final

from sim.analysis.production.floor import Floor
from sim.analysis.production.hall import Hall
from sim.analysis.production.incidents.incident import Day, Incident
from sim.analysis.production.report import Expectation
from sim.analysis.production.supply import Inlet

SHARE: Final = 0.9
"""Of what the furnaces could take, that comes while the supply is not broken."""
LUMP: Final = 6
"""Items that come at once, at the most."""
BROKEN: Final = (2 / 5, 1 / 2)
"""From which part of the run to which nothing comes."""
SEED: Final = 1


class Trickle(Incident):
    """Nothing is in the bins at first; what comes is nine tenths of what the furnaces could take, and a tenth of the
    run passes without any. Gaps and lumps are drawn, the same every time. It is run where it is asked for: only rows
    that are even for a stream can come out of it well."""

    name = "trickle"
    about = "feed and fuel by and by, and for a tenth of the run none"

    def __init__(self, hall: Hall, ticks: int) -> None:
        super().__init__(hall, ticks)
        self.coming: dict[int, list[tuple[Inlet, int]]] = defaultdict(list)
        for number, inlet in enumerate(hall.inlets):
            for tick, count in self._arrivals(inlet, random.Random(SEED + number)):
                self.coming[tick].append((inlet, count))

    def begin(self, floor: Floor) -> None:
        """Nothing yet."""

    def visit(self, floor: Floor) -> None:
        """Products only."""
        self.collect(floor)

    @property
    def moments(self) -> Sequence[int]:
        """Whenever something comes."""
        return sorted(self.coming)

    def look(self, floor: Floor) -> None:
        """Put in what is due."""
        for inlet, count in self.coming.get(floor.tick, ()):
            floor.put(inlet.source, inlet.stream.item, count)

    def expectations(self, day: Day) -> Iterator[Expectation]:
        """All get as many as the others; who waits, waits no longer than all do."""
        yield from map(day.shared_evenly, self.hall.inlets)
        yield day.everybody_fires(day.samples[0], "while something comes")

    def _arrivals(self, inlet: Inlet, rng: random.Random) -> Iterator[tuple[int, int]]:
        """Ticks and items. The mean gap follows from the mean lump and the need."""
        each = self.hall.burn(inlet.stream.item) if inlet.role == "fuel" else self.hall.rules.firing
        gap = each * (1 + LUMP) / 2 / (SHARE * len(inlet.stream.outputs))
        broken = range(*(round(part * self.ticks) for part in BROKEN))
        tick = 1
        while tick < self.ticks:
            if tick not in broken:
                yield tick, rng.randint(1, LUMP)
            tick += 1 + round(rng.expovariate(1 / gap))
