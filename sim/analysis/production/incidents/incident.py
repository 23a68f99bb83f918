"""What an incident is: what hands do otherwise than on a plain day, and what is to come of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import ClassVar, Final

from sim.analysis.production.floor import Floor, Sample
from sim.analysis.production.hall import Hall
from sim.analysis.production.metering import FIRED, NO_FEED, NO_FUEL, Counts
from sim.analysis.production.report import Expectation
from sim.analysis.production.supply import Inlet, fill
from sim.world.geometry import Cell, cell_text

WARM_UP_SHARE: Final = 4
"""Warm-up is over after a run's fourth part at the latest."""


FAIR_SPREAD: Final = 1
"""Furnaces of one stream get the same number of items, to one."""


class Incident:
    """A run in which nothing goes wrong; others say what they do otherwise. Times are ticks.

    ``begin`` is called before tick 1, ``visit`` at each refill, ``look`` at each checkpoint, after the visit.
    """

    name: ClassVar[str] = "incident"
    about: ClassVar[str] = ""

    def __init__(self, hall: Hall, ticks: int) -> None:
        self.hall, self.ticks = hall, ticks

    def begin(self, floor: Floor) -> None:
        """The first supply: every source bin to the brim."""
        self.refill(floor)

    def visit(self, floor: Floor) -> None:
        """Source bins to the brim, product bins emptied."""
        self.refill(floor)
        self.collect(floor)

    def look(self, floor: Floor) -> None:
        """Notice something, or do something, at a checkpoint."""

    @property
    def moments(self) -> Sequence[int]:
        """Ticks at which there is to be a checkpoint."""
        return ()

    def expectations(self, day: Day) -> Iterator[Expectation]:
        """What was to come of it."""
        raise NotImplementedError

    # -- what hands do ------------------------------------------------------------------------------------------------

    def refill(self, floor: Floor, *roles: str) -> None:
        """Source bins (of the streams with these roles; default: all) to the brim."""
        for inlet in self.hall.inlets:
            if not roles or inlet.role in roles:
                fill(floor, inlet)

    def collect(self, floor: Floor) -> None:
        """Product bins emptied."""
        for cell in self.hall.product_bins:
            floor.take_all(cell)


@dataclass(frozen=True)
class Day:
    """What was seen of a run: the meters at each checkpoint, and the floor at the end."""

    hall: Hall
    floor: Floor
    samples: Sequence[Sample]

    @property
    def rows(self) -> dict[Cell, int]:
        """The row of the meters of each furnace that was there to the end."""
        return {cell: i for i, cell in enumerate(self.floor.furnaces) if cell not in self.floor.gone}

    def warm(self, since: int = 0) -> Sample:
        """The first checkpoint by which every furnace that ever fires has fired an item since the one at ``since``.

        At the latest that after the fourth part of the ticks from there on.
        """
        seen = [sample for sample in self.samples if sample.tick >= since]
        first, end = seen[0], self.samples[-1].tick
        latest = first.tick + (end - first.tick) / WARM_UP_SHARE
        later = self.between(first)
        rows = [row for row in self.rows.values() if later[row, FIRED]]
        return next(
            (one for one in seen if one.tick >= latest or (one.meters[rows, FIRED] > first.meters[rows, FIRED]).all()),
            seen[-1],
        )

    def between(self, first: Sample, last: Sample | None = None) -> Counts:
        """What the meters counted between two checkpoints (default: up to the end)."""
        found: Counts = (last or self.samples[-1]).meters - first.meters
        return found

    def starved_after(self, first: Sample, skip: Callable[[Cell], bool] = lambda _: False) -> list[Cell]:
        """Furnaces that wanted feed or fuel after a checkpoint."""
        counts = self.between(first)
        starved = counts[:, NO_FEED] + counts[:, NO_FUEL]
        return [cell for cell, row in self.rows.items() if starved[row] and not skip(cell)]

    def fired_after(self, first: Sample) -> dict[Cell, int]:
        """Items fired after a checkpoint."""
        counts = self.between(first)
        return {cell: int(counts[row, FIRED]) for cell, row in self.rows.items()}

    def nobody_starves(self, first: Sample, who: str = "no furnace") -> Expectation:
        """The expectation that no furnace wants feed or fuel after a checkpoint."""
        starved = self.starved_after(first)
        told = f"; but {_named(starved)} did" if starved else ""
        return Expectation(f"{who} starves after tick {first.tick:,}{told}", not starved)

    def shared_evenly(self, inlet: Inlet) -> Expectation:
        """The expectation that each output of a stream got the same number of items, to one that is on its way."""
        delivered = self.floor.delivered()
        shares = [delivered[inlet.stream.name, cell] for cell in inlet.stream.outputs]
        spread = max(shares) - min(shares)
        what = f"{inlet.role} of {inlet.stream.name}"
        return Expectation(f"the {what} is shared evenly, to {FAIR_SPREAD} (spread {spread})", spread <= FAIR_SPREAD)

    def everybody_fires(self, first: Sample, when: str) -> Expectation:
        """The expectation that each furnace fires after a checkpoint."""
        idle = [cell for cell, fired in self.fired_after(first).items() if not fired]
        told = f"; but {_named(idle)} did not" if idle else ""
        return Expectation(f"every furnace fires {when}{told}", not idle)


def _named(cells: Sequence[Cell], most: int = 4) -> str:
    """``the furnaces at 1,0,0 and 2,0,0``, the first few."""
    if len(cells) == 1:
        return f"the furnace at {cell_text(cells[0])}"
    told = [cell_text(cell) for cell in cells[:most]] + ([f"{len(cells) - most} more"] if len(cells) > most else [])
    return "the furnaces at " + ", ".join(told[:-1]) + f" and {told[-1]}"
