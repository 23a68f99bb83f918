"""The stations of a hall, and which of them is the bottleneck.

Sources, from memory: the process view of operations management (Cachon and Terwiesch, Matching Supply with Demand):
capacity of a station = servers / service time, of the process = the least of its stations', implied utilisation = load
/ capacity, and the bottleneck is the station with the highest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Station:
    """``load``, ``capacity``: items an hour of what passes there; ``per_product``: such items for one product."""

    name: str
    load: Fraction
    capacity: Fraction
    per_product: Fraction
    formula: str

    @property
    def utilisation(self) -> Fraction:
        """Which part of its capacity is used; 1 is all of it."""
        return self.load / self.capacity

    @property
    def products(self) -> Fraction:
        """Products an hour that it is good for."""
        return self.capacity / self.per_product


def by_utilisation(stations: Sequence[Station]) -> list[tuple[Station, ...]]:
    """The stations in groups of equal utilisation, the highest first: the bottleneck, the next one, and so on."""
    levels = sorted({station.utilisation for station in stations}, reverse=True)
    return [tuple(one for one in stations if one.utilisation == level) for level in levels]


def process_capacity(stations: Sequence[Station]) -> Fraction:
    """Products an hour that all stations in a row are good for: the least of theirs."""
    return min(station.products for station in stations)
