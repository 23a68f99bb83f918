"""One item that does not belong: in a feed source, one that does not fire; in a fuel source, one that does not burn."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from sim.analysis.production.floor import Floor
from sim.analysis.production.incidents.incident import Day, Incident
from sim.analysis.production.report import Expectation
from sim.world.geometry import Cell, cell_text


class ForeignItem(Incident):
    """The first item in the source bin of the first stream of its role, below all others."""

    role: ClassVar[str]

    def begin(self, floor: Floor) -> None:
        """It goes in first, so that it comes out first; then everything to the brim."""
        for inlet in self.hall.inlets_for(self.role)[:1]:
            floor.put(inlet.source, self.hall.foreign, 1)
            floor.tell(f"1 {self.hall.foreign} in the source at {cell_text(inlet.source)}")
        self.refill(floor)

    def _places(self, day: Day) -> list[Cell]:
        """Where it is at the end."""
        kind = self.hall.foreign
        return [cell for cell, slots in day.floor.contents().items() if any(slot and slot[0] == kind for slot in slots)]

    def _found(self, day: Day) -> Expectation:
        where = [cell_text(cell) for cell in self._places(day)]
        return Expectation(f"the {self.hall.foreign} is found again: {', '.join(where) or 'nowhere'}", len(where) == 1)


class ForeignFeed(ForeignItem):
    """An item that does not fire blocks the feed slot that it gets into."""

    name = "foreign-item-feed"
    about = "one item that does not fire in a feed source"
    role = "feed"

    def expectations(self, day: Day) -> Iterator[Expectation]:
        """One furnace at most stands still for it; the others go on."""
        places = self._places(day)
        yield self._found(day)
        starved = [cell for cell in day.starved_after(day.warm()) if cell not in places]
        yield Expectation(f"no other furnace starves ({len(starved)} do)", not starved)
        fired = day.fired_after(day.warm())
        yield Expectation(
            "every furnace fires but the one that it blocks", all(fired[cell] for cell in fired if cell not in places)
        )


class ForeignFuel(ForeignItem):
    """An item that does not burn stays in a node of the fuel row."""

    name = "foreign-item-fuel"
    about = "one item that does not burn in a fuel source"
    role = "fuel"

    def expectations(self, day: Day) -> Iterator[Expectation]:
        """It stays in a node or comes to the row's end, and nobody starves."""
        yield self._found(day)
        yield Expectation("no furnace has taken it in", not set(self._places(day)) & set(self.hall.furnaces))
        yield day.nobody_starves(day.warm())
