"""Fuel stops coming, all fires go out, and then it comes again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sim.analysis.production.floor import Floor
from sim.analysis.production.incidents.incident import Day, Incident
from sim.analysis.production.metering import FIRED
from sim.analysis.production.report import Expectation
from sim.analysis.production.supply import fill

LOAD_SHARE: Final = 4
"""The first load of fuel lasts for this part of the run."""
PAUSE_SHARE: Final = 24
"""So long as this part of the run all fires are out before fuel comes again."""


class FiresOut(Incident):
    """Fuel for a quarter of the run in one load; when all fires have been out for a while, fuel as on a plain day."""

    name = "fires-out"
    about = "fuel stops coming until all fires are out, then comes again"
    out_at: int | None = None
    back_at: int | None = None

    def begin(self, floor: Floor) -> None:
        """Feed to the brim, fuel for a quarter of the run."""
        self.refill(floor, "feed", "other")
        for inlet in self.hall.inlets_for("fuel"):
            burn = max(1, self.hall.burn(inlet.stream.item))
            fill(floor, inlet, len(inlet.stream.outputs) * max(1, self.ticks // (LOAD_SHARE * burn)))

    def visit(self, floor: Floor) -> None:
        """No fuel until it comes again."""
        self.refill(floor, "feed", "other", *(["fuel"] if self.back_at is not None else []))
        self.collect(floor)

    def look(self, floor: Floor) -> None:
        """All fires out? Out for long enough?"""
        begun = bool(floor.meters[:, FIRED].any()) and not self._fuel_on_its_way(floor)
        if self.out_at is None and begun and not floor.fires():
            self.out_at = floor.tick
            floor.tell("all fires are out")
        elif self.out_at is not None and self.back_at is None and floor.tick >= self.out_at + self.ticks // PAUSE_SHARE:
            self.back_at = floor.tick
            self.refill(floor, "fuel")
            floor.tell("fuel comes again")

    def _fuel_on_its_way(self, floor: Floor) -> bool:
        """A fire may be out for a moment, while fuel is still in its source."""
        contents = floor.contents()
        return any(any(contents[inlet.source]) for inlet in self.hall.inlets_for("fuel"))

    def expectations(self, day: Day) -> Iterator[Expectation]:
        """They go out, and all burn again."""
        yield Expectation("all fires go out while no fuel comes", self.out_at is not None)
        if self.back_at is None:
            yield Expectation("fuel comes again before the end (make the run longer)", False)
            return
        back = next(sample for sample in day.samples if sample.tick == self.back_at)
        yield day.everybody_fires(back, "again when fuel comes again")
        yield day.nobody_starves(day.warm(self.back_at))
