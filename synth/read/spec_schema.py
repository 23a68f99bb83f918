"""The published schema of specs, and its faults in the words of TOML."""

from __future__ import annotations

from typing import Any, Final

from sim.errors import InputError
from sim.world.files.consistency import outside
from sim.world.files.places import Place, json_place
from sim.world.files.schema import Fault, first_fault, validator
from sim.world.geometry import Cell

SCHEMA: Final = "splitwright-spec-1"
HALL: Final = "hall"
"""The table that makes a document the spec of a whole hall (``synth.hall``)."""


def check_schema(document: dict[str, Any]) -> None:
    """Raises InputError with the first fault's field, as in ``split.outputs``, unless the published schema holds."""
    if HALL in document:
        raise InputError("makes this the spec of a whole hall; a spec of one split is due ([split], [site], [streams])",
                         field=HALL)  # fmt: skip
    fault = schema_fault(document, SCHEMA)
    if fault:
        place, told = told_in_toml(document, _told_of_site(document, fault))
        raise InputError(told, field=json_place(place))


def schema_fault(document: dict[str, Any], schema: str) -> Fault | None:
    """The first fault that a published schema finds, in the words of JSON. Raises InputError for an endless nest."""
    try:
        return first_fault(validator(schema), document)
    except RecursionError:
        # only a deep nest where none belongs: the validator writes it into its own message
        raise InputError("is nested too deeply") from None


def _told_of_site(document: dict[str, Any], fault: Fault) -> Fault:
    """A cell of which only a number is out of range is told as what it is: a cell outside the site."""
    place = _cell_place(fault[0])
    cell = _value_at(document, place)
    if not place or not _is_triple(cell):
        return fault
    size = document["site"]["size"]
    size_fault = first_fault(validator(SCHEMA, "site"), {"size": size})
    if size_fault:
        return ("site", *size_fault[0]), size_fault[1]
    width, depth, height = size
    told = outside_fault(cell_of(cell), (width, depth, height))
    return (place, told) if told else fault


def _cell_place(place: Place) -> Place:
    """The place of the cell in which, or at which, ``place`` lies; () when it lies in none."""
    match place:
        case ("site", "blocked", int(), *_) | ("streams", _, "source", *_):
            return place[:3]
        case ("streams", _, "outputs_at", int(), *_):
            return place[:4]
    return ()


def _is_triple(value: Any) -> bool:
    return isinstance(value, list) and len(value) == 3 and all(type(number) is int for number in value)


def told_in_toml(document: dict[str, Any], fault: Fault) -> Fault:
    """``fault`` with what JSON calls an object called a table."""
    place, told = fault
    plain = told.removesuffix("not an object")
    if plain == told:
        return fault
    return place, plain + ("not a table" if _value_at(document, place) else "not an empty table")


def outside_fault(cell: Cell, size: tuple[int, int, int]) -> str | None:
    """What is wrong with a cell that lies outside a site of that size; None when it lies inside."""
    inside = all(0 <= number < cells for number, cells in zip(cell, size, strict=True))
    return None if inside else outside(cell, size)


def _value_at(document: Any, place: Place) -> Any:
    for way in place:
        document = document[way]
    return document


def cell_of(numbers: list[int]) -> Cell:
    """A cell that the schema has found in order."""
    x, y, z = numbers
    return x, y, z
