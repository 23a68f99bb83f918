"""From a hall to its size: figures with formulas, and the bottleneck."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from synth.ask.hall_spec import HallSpec
from synth.sizing.arithmetic import (
    bin_figures,
    flow_figures,
    furnace_figures,
    numbers_given,
    row_figures,
    stations_of,
    transit_figures,
)
from synth.sizing.figures import Figure, Sheet
from synth.sizing.plant import Plant, side_sizes
from synth.sizing.stations import Station, by_utilisation, process_capacity


@dataclass(frozen=True)
class Sizing:
    """A hall's figures by name, in the order in which they follow from each other, and its stations."""

    plant: Plant
    figures: Mapping[str, Figure]
    stations: tuple[Station, ...]

    def value(self, name: str) -> Fraction:
        """A figure, exact. Raises KeyError for a name that is none's."""
        return self.figures[name].value

    @property
    def furnaces(self) -> int:
        """Furnaces of all sides."""
        return int(self.value("furnaces"))

    @property
    def side_sizes(self) -> tuple[int, ...]:
        """Furnaces of each side."""
        return side_sizes(self.furnaces, self.plant.sides)

    @property
    def output(self) -> Fraction:
        """Products an hour that are asked for, or that the furnaces make at full work."""
        return self.value("output")

    @property
    def feed_rows(self) -> int:
        """Feed rows of all sides, as throughput alone needs them."""
        return int(self.value("feed_rows"))

    @property
    def fuel_rows(self) -> int:
        """Fuel rows of all sides, as throughput alone needs them."""
        return int(self.value("fuel_rows"))

    @property
    def product_lines(self) -> int:
        """Product lines of all sides, as throughput alone needs them."""
        return int(self.value("product_lines"))

    @property
    def bottleneck(self) -> tuple[Station, ...]:
        """The stations of the highest utilisation: one, or several alike."""
        return by_utilisation(self.stations)[0]

    @property
    def next_bottleneck(self) -> tuple[Station, ...]:
        """Those of the next highest utilisation; none when all stations are alike."""
        return next(iter(by_utilisation(self.stations)[1:]), ())

    @property
    def capacity(self) -> Fraction:
        """Products an hour that the bottleneck is good for."""
        return process_capacity(self.stations)


def size_of_plant(plant: Plant) -> Sizing:
    """The size of a hall of these numbers. Raises ValueError where they state neither furnaces nor output."""
    sheet = Sheet()
    topics = (numbers_given, furnace_figures, flow_figures, row_figures, bin_figures, transit_figures)
    for topic in topics:
        topic(sheet, plant)
    return Sizing(plant, sheet.figures, stations_of(sheet, plant))


def size_of(hall: HallSpec) -> Sizing:
    """The size of a hall that was read and checked."""
    return size_of_plant(plant_of(hall))


def plant_of(hall: HallSpec) -> Plant:
    """The numbers of a hall."""
    return Plant(
        rules=hall.rules,
        burn=hall.burn,
        furnaces=hall.furnaces,
        output=hall.output,
        sides=hall.sides,
        product_bins=hall.product_bins or 1,
        inputs=hall.inputs,
        feed_stack=hall.stack_of(hall.fires),
        fuel_stack=hall.stack_of(hall.fuel),
        product_stack=hall.stack_of(hall.product),
    )
