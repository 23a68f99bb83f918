"""Nothing goes wrong."""

from __future__ import annotations

from collections.abc import Iterator

from sim.analysis.production.incidents.incident import Day, Incident
from sim.analysis.production.report import Expectation


class Steady(Incident):
    """Source bins are filled and product bins emptied at every visit."""

    name = "steady"
    about = "nothing goes wrong"

    def expectations(self, day: Day) -> Iterator[Expectation]:
        """Nobody starves, nobody stands still."""
        yield day.nobody_starves(day.warm())
        yield day.everybody_fires(day.warm(), "after warm-up")
        came = sum(day.samples[-1].came[cell] for cell in day.hall.product_bins)
        yield Expectation("products come to the product bins", came > 0)
