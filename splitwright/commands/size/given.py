"""What ``size`` is asked: a hall from a spec, from options, or from a spec with options in its place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Final

from sim.errors import InputError
from sim.world.files.places import one_of, shown
from sim.world.layout import ItemKind
from sim.world.rulebook import DEFAULT_RULEBOOK, Rulebook, load_rulebook
from splitwright.cli.options import number_from
from synth.ask.hall_spec import PRODUCT, HallSpec, HallStream
from synth.hall.spec_checks import fires_fault, sides_fault
from synth.hall.spec_file import load_hall
from synth.sizing.plant import burn_fault, output_fault
from synth.sizing.size import plant_of

FULL: Final = "full"
OUTPUT_MOST: Final = 1_000_000
FIRED: Final = "feed"
"""What is fired when nothing says so."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """The options of ``size``; None: not given."""

    output: str | None = None
    furnaces: int | None = None
    sides: int | None = None
    fires: str | None = None
    fuel: str | None = None
    product_bins: int | None = None
    rules: str | None = None


def hall_asked(path: Path | None, wanted: Wanted) -> HallSpec:
    """The hall to be sized. Raises InputError, in the name of the spec or of the option that is at fault."""
    if path is None and wanted.output in (None, FULL) and wanted.furnaces is None:
        raise InputError("give a SPEC, or --output N or --furnaces N", file="size")
    hall = _bare(wanted) if path is None else load_hall(path)
    if path is not None and wanted.rules is not None:
        hall = _under(hall, load_rulebook(wanted.rules))
    hall = _amounts(_kinds(hall, wanted), wanted)
    for option, fault in _faults(hall, wanted):
        raise InputError(fault, file=option)
    return hall


def _bare(wanted: Wanted) -> HallSpec:
    """A hall that no spec states: whatever is fired, with the fuel that the rulebook knows."""
    book = load_rulebook(wanted.rules or DEFAULT_RULEBOOK)
    fires = wanted.fires or FIRED
    fuel = wanted.fuel or next(iter(book.burns), "")
    burning = {kind: ItemKind(burn=burn) for kind, burn in book.burns.items()}
    return HallSpec(
        title="",
        furnaces=None,
        sides=1,
        output=None,
        fires=fires,
        fuel=fuel,
        streams=(HallStream("feed", fires, "top"), HallStream("fuel", fuel, "side")),
        rulebook=book,
        items={**burning, fires: replace(burning.get(fires, ItemKind()), fires_to=PRODUCT)},
    )


def _under(hall: HallSpec, book: Rulebook) -> HallSpec:
    """The hall under another rulebook: fuels burn as that one says, but for those of which the spec says otherwise."""
    old = hall.rulebook.burns
    fuels = {
        kind: ItemKind(burn=burn)
        for kind, burn in book.burns.items()
        if hall.items.get(kind) in (None, ItemKind(burn=old.get(kind, 0)))
    }
    return replace(hall, rulebook=book, items={**hall.items, **fuels})


def _kinds(hall: HallSpec, wanted: Wanted) -> HallSpec:
    fires, fuel = wanted.fires or hall.fires, wanted.fuel or hall.fuel
    streams = tuple(replace(one, item=fires if one.enters == "top" else fuel) for one in hall.streams)
    return replace(hall, fires=fires, fuel=fuel, streams=streams)


def _amounts(hall: HallSpec, wanted: Wanted) -> HallSpec:
    """An output alone takes as many furnaces as it takes, furnaces alone go as fast as they can."""
    furnaces, output = hall.furnaces, hall.output
    if wanted.furnaces is not None or wanted.output not in (None, FULL):
        furnaces, output = wanted.furnaces, None
    if wanted.output == FULL:
        output = None
    elif wanted.output is not None:
        output = Fraction(number_from(wanted.output, 1, OUTPUT_MOST, "--output"))
    if furnaces is None and output is None:
        raise InputError(f"{shown(FULL)} needs a number of furnaces; add --furnaces N", file="--output")
    return replace(
        hall,
        furnaces=furnaces,
        output=output,
        sides=wanted.sides or hall.sides,
        product_bins=wanted.product_bins or hall.product_bins,
    )


def _faults(hall: HallSpec, wanted: Wanted) -> Iterator[tuple[str, str]]:
    if fault := fires_fault(hall):
        yield "--fires", fault
    if not hall.burn:
        fuels = sorted(kind for kind, item in hall.items.items() if item.burn)
        known = f"name a fuel ({one_of(fuels)})" if fuels else "name a rulebook that knows a fuel (--rules)"
        yield "--fuel", f"{shown(hall.fuel)} does not burn; {known}"
    if fault := burn_fault(hall.burn, hall.rules):
        yield "--fuel" if wanted.fuel else "--rules", fault
    if fault := output_fault(plant_of(hall)):
        yield "--rules" if wanted.output is None else "--output", fault
    if fault := sides_fault(hall):
        yield "--sides" if wanted.sides else "--furnaces" if wanted.furnaces else "--output", fault
