"""One furnace is taken away in the middle of the run, with what it holds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.analysis.checks.standing import no_support
from sim.analysis.production.floor import Floor
from sim.analysis.production.incidents.incident import Day, Incident
from sim.analysis.production.report import Expectation
from sim.world.geometry import cell_text


class FurnaceGone(Incident):
    """The cell is empty from then on: nodes push into nothing there, and signals see one solid cell less."""

    name = "furnace-gone"
    about = "one furnace is taken away in mid-run, with what it holds"

    @property
    def moments(self) -> Sequence[int]:
        """The middle of the run."""
        return (self.ticks // 2,)

    def look(self, floor: Floor) -> None:
        """Take it away."""
        if floor.tick == self.ticks // 2 and self.hall.gone not in floor.gone:
            taken = floor.remove(self.hall.gone)
            held = " and ".join(f"{count} {kind}" for kind, count in taken.items()) or "nothing in it"
            floor.tell(f"the furnace at {cell_text(self.hall.gone)} is taken away, with {held}")
            for finding in self._unsupported(floor):
                floor.tell(finding)

    def _unsupported(self, floor: Floor) -> Iterator[str]:
        """Signal parts that stood on the furnace or hung on it; they go on as they are, which no real one would."""
        before = {one.at for one in no_support(self.hall.layout, self.hall.rules)}
        for one in no_support(floor.run.tables.layout, self.hall.rules):
            if one.at not in before:
                yield one.text

    def expectations(self, day: Day) -> Iterator[Expectation]:
        """The others go on as before."""
        yield Expectation("the furnace is taken away", self.hall.gone in day.floor.gone)
        middle = next(sample for sample in day.samples if sample.tick == self.ticks // 2)
        yield day.nobody_starves(day.warm(), "no other furnace")
        yield day.everybody_fires(middle, "that is left after that")
