"""What a schema cannot say of a spec: a scheme that serves, cells inside the site, pins that agree, fuel that burns.

Whether anything *exists* that fulfils the spec is the proposer's question, not theirs.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from sim.errors import InputError
from sim.world.files.places import Place, counted, json_place, one_of, shown
from sim.world.geometry import Cell
from sim.world.layout import ItemKind
from sim.world.rulebook import Rulebook
from synth.ask.spec import Spec, StreamSpec
from synth.confirm.loads import room_of
from synth.read.spec_schema import cell_of, outside_fault
from synth.schemes.registry import no_scheme, scheme_named, why_not

Faults = Iterator[tuple[Place, str]]


def check_spec(document: dict[str, Any], spec: Spec) -> None:
    """Raises InputError for the first fault of ``spec``, made of ``document``, which follows the published schema.

    Linear in the number of cells that the spec names.
    """
    checks = (_scheme_that_does_not_serve, _demands_at_odds, _loads_too_large, _cells_outside, _faces_shared,
              _items_shared, _fuel_that_is_none, _pins_at_odds, _cells_taken)  # fmt: skip
    for check in checks:
        for place, fault in check(document, spec):
            raise InputError(fault, field=json_place(place))


def _scheme_that_does_not_serve(_document: dict[str, Any], spec: Spec) -> Faults:
    """Raises InputError for a name that is no scheme's."""
    if spec.scheme is not None and why_not(scheme_named(spec.scheme), spec):
        yield ("split", "scheme"), f"{no_scheme(spec)}; name another, or none"


def _demands_at_odds(_document: dict[str, Any], spec: Spec) -> Faults:
    demands, rules = spec.demands, spec.rules
    if demands.arrivals == "all" and spec.even_for != "stream":
        asked = f"even_for = {shown(spec.even_for)} asks"
        yield ("split", "arrivals"), f'"all" is more than {asked}; say even_for = "stream"'
    if spec.holds_most is not None and spec.leftovers == "deliver":
        yield ("split", "holds_most"), 'is for leftovers = "hold"; with "deliver" nothing waits'
    most = rules.ticks_per_second * 3600 // rules.period
    if demands.throughput is not None and demands.throughput > most:
        yield ("split", "throughput"), f"is more than one node passes: at most {most} items an hour"
    room = room_of(spec, held=0)
    if demands.throughput is not None and min(room.at_once, room.in_all) < 2:
        yield ("split", "throughput"), "is told by loads of N and 2N items, and there is room for N only"


def _loads_too_large(_document: dict[str, Any], spec: Spec) -> Faults:
    if not room_of(spec, held=0).at_once:
        yield ("split", "outputs"), "is more than a source has room for: a load has one item for each furnace at least"


def _cells_outside(document: dict[str, Any], spec: Spec) -> Faults:
    for place, cell in _named_cells(document):
        fault = outside_fault(cell, spec.size)
        if fault:
            yield place, fault


def _named_cells(document: dict[str, Any]) -> Iterator[tuple[Place, Cell]]:
    for i, cell in enumerate(document["site"].get("blocked", [])):
        yield ("site", "blocked", i), cell_of(cell)
    for name, stream in document["streams"].items():
        if isinstance(stream.get("source"), list):
            yield ("streams", name, "source"), cell_of(stream["source"])
        for i, cell in enumerate(stream.get("outputs_at", [])):
            yield ("streams", name, "outputs_at", i), cell_of(cell)


def _faces_shared(_document: dict[str, Any], spec: Spec) -> Faults:
    """All streams go into the same furnaces, and a face takes one of them."""
    first_into: dict[str, StreamSpec] = {}
    for stream in spec.streams:
        first = first_into.setdefault(stream.enters, stream)
        if first is not stream:
            face = shown(stream.enters)
            yield (
                ("streams", stream.name, "enters"),
                f'is {face}, as is that of {_named(first)}; at most one stream for each face ("top", "side")',
            )


def _items_shared(_document: dict[str, Any], spec: Spec) -> Faults:
    """What enters a furnace is counted by its kind, whichever row brings it."""
    first_of: dict[str, StreamSpec] = {}
    for stream in spec.streams:
        first = first_of.setdefault(stream.item, stream)
        if first is not stream:
            fault = f"is {shown(stream.item)}, as is that of {_named(first)}; what each one delivers could not be told"
            yield ("streams", stream.name, "item"), fault


def _fuel_that_is_none(_document: dict[str, Any], spec: Spec) -> Faults:
    for stream in spec.streams:
        fault = None if stream.enters == "top" else fuel_fault(stream.item, spec.items, spec.rulebook)
        if fault:
            yield ("streams", stream.name, "item"), fault


def fuel_fault(fuel: str, items: Mapping[str, ItemKind], rulebook: Rulebook) -> str | None:
    """What is wrong with a kind that is to burn, and what would be right; None: it burns."""
    if fuel in items and items[fuel].burn:
        return None
    fuels = sorted(kind for kind, item in items.items() if item.burn)
    burn, table = rulebook.burns.get(fuel, "TICKS"), json_place(("items", fuel))
    mend = f"add burn = {burn} to [{table}]" + (f", or name a fuel ({one_of(fuels)})" if fuels else "")
    return f"{shown(fuel)} does not burn, and only fuel enters from the side; {mend}"


def _pins_at_odds(_document: dict[str, Any], spec: Spec) -> Faults:
    pinning = [stream for stream in spec.streams if stream.outputs_at]
    for stream in pinning:
        place: Place = ("streams", stream.name, "outputs_at")
        pins, first = len(stream.outputs_at), pinning[0]
        if pins != spec.outputs:
            listed = f"{counted(pins, 'cell')} for {counted(spec.outputs, 'furnace')} (split.outputs)"
            yield place, f"lists {listed}; give one for each"
        if set(stream.outputs_at) != set(first.outputs_at):
            yield place, f"pins other furnaces than {_named(first)}; all streams go into the same furnaces"


def _cells_taken(_document: dict[str, Any], spec: Spec) -> Faults:
    taken = dict.fromkeys(spec.blocked, "blocked")
    for stream in spec.streams:
        for i, cell in enumerate(stream.outputs_at):
            place: Place = ("streams", stream.name, "outputs_at", i)
            if taken.get(cell) == "blocked":
                yield place, f"{shown(cell)} is blocked; pin the furnace to a free cell"
    taken |= {cell: "the place of a furnace" for stream in spec.streams for cell in stream.outputs_at}
    for stream in spec.streams:
        if isinstance(stream.source, tuple):
            if stream.source in taken:
                fault = f"{shown(stream.source)} is {taken[stream.source]}; put the bin into a free cell"
                yield ("streams", stream.name, "source"), fault
            taken[stream.source] = f"the source of {_named(stream)}"


def _named(stream: StreamSpec) -> str:
    return json_place(("streams", stream.name))
