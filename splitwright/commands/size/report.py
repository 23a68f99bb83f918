"""A hall's size as a table and as ``splitwright-size/1``."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any, Final

from rich.table import Table

from sim.world.files.places import box_text, counted, printable
from splitwright.cli.tables import plain_table
from synth.ask.hall_spec import HallSpec
from synth.hall.footprint import Footprint
from synth.search.known.matching import fits
from synth.sizing.figures import Figure
from synth.sizing.size import Sizing
from synth.sizing.stations import Station

FORMAT: Final = "splitwright-size/1"
NOTES: Final = (
    "side: furnaces of one side; rows: of that side; /h: an hour of world time.",
    "Rates are what nodes can pass at most; how far a row's signals reach is no part of this.",
)


def size_table(hall: HallSpec, sizing: Sizing) -> Table:
    """A row a figure, with the formula that it comes from."""
    table = plain_table("figure", "", "value", "unit", "formula", right=("value",), title=heading(hall, sizing))
    for figure in sizing.figures.values():
        table.add_row(figure.about, figure.symbol, number(figure.value), figure.unit, figure.formula)
    return table


def stations_table(sizing: Sizing) -> Table:
    """A row a station that every product passes."""
    table = plain_table(
        "station", "load/h", "can pass/h", "used", "good for products/h", "can pass by",
        right=("load/h", "can pass/h", "used", "good for products/h"),
    )  # fmt: skip
    for one in sizing.stations:
        table.add_row(one.name, number(one.load), number(one.capacity), percent(one.utilisation),
                      number(one.products), one.formula)  # fmt: skip
    return table


def heading(hall: HallSpec, sizing: Sizing) -> str:
    """What the hall is."""
    sides = f" in {counted(hall.sides, 'side')}" if hall.sides > 1 else ""
    what = f"{counted(sizing.furnaces, 'furnace')}{sides}, {hall.fires} with {hall.fuel}"
    return printable(f"{hall.title}: {what}" if hall.title else what)


def answer_line(sizing: Sizing) -> str:
    """The answer in one line."""
    rows = ", ".join(
        counted(count, thing)
        for count, thing in (
            (sizing.feed_rows, "feed row"),
            (sizing.fuel_rows, "fuel row"),
            (sizing.product_lines, "product line"),
        )
    )
    furnaces, output = counted(sizing.furnaces, "furnace"), number(sizing.output)
    return f"{furnaces} for {output} products an hour: {rows}, {number(sizing.value('fuel_most'))} fuel an hour."


def bottleneck_line(sizing: Sizing) -> str:
    """Where the bottleneck is, and what the next one would be."""
    first, after = sizing.bottleneck, sizing.next_bottleneck
    line = (
        f"Bottleneck: {_together(first)}, {percent(first[0].utilisation)} used; "
        f"good for {number(sizing.capacity)} products an hour."
    )
    if not after:
        return f"{line} No other station is less used."
    most = min(one.products for one in after)
    return (
        f"{line} The next would be {_together(after)}, {percent(after[0].utilisation)} used; "
        f"good for {number(most)} products an hour."
    )


def room_lines(hall: HallSpec, room: Footprint | None) -> Iterator[str]:
    """The site that will do, and below what none will."""
    if room is None:
        yield "Room: not known before propose has searched; the rows whose room is known do something else."
    else:
        box = box_text(room.box)
        yield f"Room: {box} = {room.cells} cells as known rows have it (an estimate; propose builds and confirms it)."
        if hall.size is not None and not fits(room.box, hall.size):
            yield f"  The site of {box_text(hall.size)} has no room for that."
        if room.at_least is not None:
            yield f"  No hall of that kind takes fewer than {room.at_least} cells (proved; scope: docs/halls.md)."


def _together(stations: tuple[Station, ...]) -> str:
    names = [one.name for one in stations]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def number(value: Fraction) -> str:
    """A figure as people read it: whole, or to two places."""
    return str(int(value)) if value.denominator == 1 else f"{float(value):.2f}"


def percent(part: Fraction) -> str:
    """A part of the whole, in percent."""
    return f"{number(part * 100)} %"


def size_document(hall: HallSpec, sizing: Sizing, room: Footprint | None) -> dict[str, Any]:
    """``splitwright-size/1``."""
    return {
        "format": FORMAT,
        "title": hall.title,
        "fires": hall.fires,
        "fuel": hall.fuel,
        "sides": list(sizing.side_sizes),
        "figures": [_figure(figure) for figure in sizing.figures.values()],
        "stations": [_station(station) for station in sizing.stations],
        "bottleneck": [station.name for station in sizing.bottleneck],
        "next": [station.name for station in sizing.next_bottleneck],
        "capacity": _json_number(sizing.capacity),
        **({} if room is None else {"room": room.as_json()}),
    }


def _figure(figure: Figure) -> dict[str, Any]:
    return {
        "name": figure.name,
        "about": figure.about,
        "symbol": figure.symbol,
        "formula": figure.formula,
        "value": _json_number(figure.value),
        "exact": str(figure.value),
        "unit": figure.unit,
    }


def _station(station: Station) -> dict[str, Any]:
    return {
        "name": station.name,
        "load": _json_number(station.load),
        "capacity": _json_number(station.capacity),
        "utilisation": _json_number(station.utilisation),
        "products": _json_number(station.products),
        "formula": station.formula,
    }


def _json_number(value: Fraction) -> int | float:
    return int(value) if value.denominator == 1 else float(value)
