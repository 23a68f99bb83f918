"""Half of the fuel that the run needs, in one load."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sim.production.floor import Floor
from sim.production.incidents.incident import Day, Incident
from sim.production.report import Expectation
from sim.production.supply import fill

FAIR_SPREAD: Final = 1
"""Furnaces of one stream get the same number of fuel items, to one."""


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
        delivered = day.floor.delivered()
        for inlet in self.hall.inlets_for("fuel"):
            shares = [delivered[inlet.stream.name, cell] for cell in inlet.stream.outputs]
            spread = max(shares) - min(shares)
            yield Expectation(
                f"the fuel of {inlet.stream.name} is shared evenly, to {FAIR_SPREAD} (spread {spread})",
                spread <= FAIR_SPREAD,
            )
        yield day.everybody_fires(day.samples[0], "while there is fuel")
