"""The product bins are full, and nobody empties them."""

from __future__ import annotations

from collections.abc import Iterator

from sim.analysis.production.floor import Floor
from sim.analysis.production.incidents.incident import Day, Incident
from sim.analysis.production.metering import FULL
from sim.analysis.production.report import Expectation
from sim.analysis.production.supply import bin_room


class FullBin(Incident):
    """Product bins are filled to the brim before the run (counted as put in) and never emptied."""

    name = "full-bin"
    about = "the product bins are full from the beginning and never emptied"

    def begin(self, floor: Floor) -> None:
        """Everything to the brim."""
        self.refill(floor)
        if self.hall.product is not None:
            room = bin_room(self.hall.layout, self.hall.base, self.hall.product)
            for cell in self.hall.product_bins:
                floor.put(cell, self.hall.product, room)

    def visit(self, floor: Floor) -> None:
        """Feed and fuel only."""
        self.refill(floor)

    def look(self, floor: Floor) -> None:
        """When the first and when the last furnace stops."""
        stopped = int((floor.meters[:, FULL] > 0).sum())
        told = {event.text for event in floor.events}
        for text, true in (("the first furnace has no room for its product", stopped > 0),
                           ("no furnace has room for its product", stopped == len(floor.furnaces))):
            if true and text not in told:
                floor.tell(text)

    def expectations(self, day: Day) -> Iterator[Expectation]:
        """Furnaces stop for want of room alone."""
        yield Expectation("there is a product bin", bool(day.hall.product_bins))
        yield day.nobody_starves(day.warm())
