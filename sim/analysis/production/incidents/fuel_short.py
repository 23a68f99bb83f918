"""Half of the fuel that the run needs, in one load."""

from __future__ import annotations

from collections.abc import Iterator

from sim.analysis.production.floor import Floor
from sim.analysis.production.incidents.incident import Day, Incident
from sim.analysis.production.report import Expectation
from sim.analysis.production.supply import fill


class FuelShort(Incident):
    """Each fuel source is filled once: half of what its furnaces would burn in the run, as far as the bin has room."""

    name = "fuel-short"
    about = "half of the fuel that the run needs, in one load"

    def begin(self, floor: Floor) -> None:
        """Feed to the brim, fuel for half of the run."""
        self.refill(floor, "feed", "other")
        for inlet in self.hall.inlets_for("fuel"):
            need = self.ticks * len(inlet.stream.outputs) // (2 * max(1, self.hall.burn(inlet.stream.item)))
            done = fill(floor, inlet, max(need, len(inlet.stream.outputs)))
            floor.tell(f"{done} {inlet.stream.item} for the stream {inlet.stream.name}, and no more")

    def visit(self, floor: Floor) -> None:
        """Feed and product only."""
        self.refill(floor, "feed", "other")
        self.collect(floor)

    def expectations(self, day: Day) -> Iterator[Expectation]:
        """What fuel there is, is shared evenly, and no furnace stops for another reason."""
        yield from map(day.shared_evenly, self.hall.inlets_for("fuel"))
        yield day.everybody_fires(day.samples[0], "while there is fuel")
