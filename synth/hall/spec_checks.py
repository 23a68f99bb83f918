"""What a schema cannot say of a hall: what fires and burns, an output that can be made, schemes that serve."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from sim.errors import InputError, nearest
from sim.world.files.places import Place, counted, json_place, one_of, shown
from synth.ask.hall_spec import PRODUCT, HallSpec, HallStream
from synth.ask.spec import Spec, StreamSpec
from synth.read.spec_checks import fuel_fault
from synth.read.spec_schema import cell_of, outside_fault
from synth.schemes.registry import no_scheme, scheme_named, why_not
from synth.sizing.plant import an_hour, burn_fault, furnace_time, furnaces_of, output_fault, side_sizes
from synth.sizing.size import plant_of

Faults = Iterator[tuple[Place, str]]


def check_hall(document: dict[str, Any], hall: HallSpec) -> None:
    """Raises InputError for the first fault of ``hall``, made of ``document``, which follows the published schema."""
    checks = (_items_at_odds, _bins_of_no_name, _furnaces_at_odds, _schemes_that_do_not_serve, _demands_at_odds,
              _inputs_at_odds, _cells_outside)  # fmt: skip
    for check in checks:
        for place, fault in check(document, hall):
            raise InputError(fault, field=json_place(place))


def _items_at_odds(_document: dict[str, Any], hall: HallSpec) -> Faults:
    for stream in hall.streams:
        due, key = (hall.fires, "fires") if stream.enters == "top" else (hall.fuel, "fuel")
        if stream.item != due:
            fault = f"must be {shown(due)}, as hall.{key} says, not {shown(stream.item)}"
            yield ("streams", stream.name, "item"), fault
    if firing := fires_fault(hall):
        yield ("hall", "fires"), firing
    if burning := fuel_fault(hall.fuel, hall.items, hall.rulebook) or burn_fault(hall.burn, hall.rules):
        yield ("hall", "fuel"), burning
    if hall.fires == hall.fuel:
        fault = f"is {shown(hall.fuel)}, as is hall.fires; what each row delivers could not be told"
        yield ("hall", "fuel"), fault


def fires_fault(hall: HallSpec) -> str | None:
    """What is wrong with the kind that is to be fired, and what would be right; None: it fires to something."""
    if hall.fires in hall.items and hall.items[hall.fires].fires_to:
        return None
    firing = sorted(kind for kind, item in hall.items.items() if item.fires_to)
    mend = f"add fires_to = KIND to [{json_place(('items', hall.fires))}]"
    others = f", or name what fires ({one_of(firing)})" if firing else ""
    return f"{shown(hall.fires)} fires to nothing; {mend}{others}"


def _bins_of_no_name(document: dict[str, Any], hall: HallSpec) -> Faults:
    names = [*(stream.name for stream in hall.streams), PRODUCT]
    if names.count(PRODUCT) > 1:
        yield ("streams", PRODUCT), "is the name of the bins that the product comes to; name the stream otherwise"
    for name in document["hall"].get("labels", {}):
        if name not in names:
            yield ("hall", "labels", name), f"no bin is called that; {nearest(name, names)}"
    for i, name in enumerate(document["hall"].get("reachable", [])):
        if name not in names:
            yield ("hall", "reachable", i), f"no bin is called {shown(name)}; {nearest(name, names)}"


def _furnaces_at_odds(_document: dict[str, Any], hall: HallSpec) -> Faults:
    if hall.furnaces is None and hall.output is None:
        yield ("hall", "furnaces"), "is missing; state furnaces, or an output an hour from which they follow"
    plant = plant_of(hall)
    if fault := output_fault(plant):
        yield ("hall", "output"), fault
    if fault := sides_fault(hall):
        yield ("hall", "sides"), fault


def sides_fault(hall: HallSpec) -> str | None:
    """What is wrong with the number of sides; None: each has a furnace."""
    furnaces = furnaces_of(plant_of(hall))
    if furnaces >= hall.sides:
        return None
    return f"must be {furnaces} at most for {counted(furnaces, 'furnace')}, not {hall.sides}"


def _schemes_that_do_not_serve(document: dict[str, Any], hall: HallSpec) -> Faults:
    """The rows of the smallest side are the ones that a scheme may be too large for."""
    fewest = min(side_sizes(furnaces_of(plant_of(hall)), hall.sides))
    for stream in hall.streams:
        if stream.scheme is None:
            continue
        own = "scheme" in document.get("streams", {}).get(stream.name, {})
        place: Place = ("streams", stream.name, "scheme") if own else ("split", "scheme")
        row = row_spec(hall, stream, fewest)
        try:
            serves = why_not(scheme_named(stream.scheme), row) is None
        except InputError as error:
            yield place, error.fault
        else:
            if not serves:
                yield place, f"{no_scheme(row)} (streams.{stream.name}); name another, or none"


def row_spec(hall: HallSpec, stream: HallStream, outputs: int) -> Spec:
    """The split of one row of the hall, as schemes are asked about it; its site is of no account."""
    return Spec(
        title=hall.title,
        outputs=outputs,
        size=(1, 1, 1),
        streams=(StreamSpec(stream.name, stream.item, stream.enters),),
        rulebook=hall.rulebook,
        even_for=stream.even_for,
        leftovers=stream.leftovers,
        items=hall.items,
        overrides=hall.overrides,
        scheme=stream.scheme,
        demands=hall.demands,
    )


def _demands_at_odds(_document: dict[str, Any], hall: HallSpec) -> Faults:
    for stream in hall.streams:
        if hall.demands.arrivals == "all" and stream.even_for != "stream":
            asked = f"even_for = {shown(stream.even_for)} of {json_place(('streams', stream.name))} asks"
            yield ("split", "arrivals"), f'"all" is more than {asked}; say even_for = "stream"'


def _inputs_at_odds(_document: dict[str, Any], hall: HallSpec) -> Faults:
    if hall.inputs is None:
        return
    for stream in hall.streams:
        if stream.even_for != "stream" or stream.leftovers != "hold":
            yield (
                ("hall", "inputs"),
                f"{hall.inputs} asks for rows that are even whenever items come, and that may keep some; say "
                f'even_for = "stream" and leftovers = "hold" of {stream.name}, or leave inputs out',
            )
    furnaces, rows = furnaces_of(plant_of(hall)), hall.sides * (hall.rows or 1)
    each = an_hour(hall.rules, furnace_time(hall.rules))
    wanted = furnaces * each if hall.output is None else hall.output
    passes = an_hour(hall.rules, Fraction(hall.rules.period))
    if wanted > hall.inputs * passes:
        yield (
            ("hall", "inputs"),
            f"{hall.inputs} passes {int(passes)} items an hour, wanted are {int(wanted)}; leave inputs out, or ask for "
            f"less: {int(passes // each)} furnaces take that many",
        )
    if furnaces % rows:
        below, above = furnaces // rows * rows, -(-furnaces // rows) * rows
        yield (
            ("hall", "inputs"),
            f"{hall.inputs} asks for rows that have as many furnaces each; take {below} or {above} in place of "
            f"{furnaces}, or leave inputs out",
        )


def _cells_outside(document: dict[str, Any], hall: HallSpec) -> Faults:
    blocked = document.get("site", {}).get("blocked", [])
    if blocked and hall.size is None:
        yield ("site", "size"), "is missing; it says where the blocked cells lie: [width, depth, height]"
    for i, cell in enumerate(blocked):
        fault = outside_fault(cell_of(cell), hall.size) if hall.size else None
        if fault:
            yield ("site", "blocked", i), fault
