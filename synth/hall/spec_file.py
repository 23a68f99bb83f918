"""A hall's spec file to a ``HallSpec``: read, held against the published schema, completed, checked.

What it has in common with the spec of one split (formats, "Spec: TOML") is read in the same way.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

from sim.errors import InputError
from sim.world.files.places import json_place, printable, shown
from sim.world.files.text import read_text
from sim.world.files.toml_text import parse_toml
from sim.world.rulebook import DEFAULT_RULEBOOK, Rulebook
from synth.ask.hall_spec import PRODUCT, HallSpec, HallStream
from synth.ask.spec import DEFAULT_ORDER, Demands, Face, PartLimit
from synth.hall.spec_checks import check_hall
from synth.read.spec_file import DEMANDS, items_of, rulebook_for
from synth.read.spec_schema import HALL, cell_of, schema_fault, told_in_toml

SCHEMA: Final = "splitwright-hall-1"
USUAL: Final[Mapping[str, Face]] = {"feed": "top", "fuel": "side"}
"""What streams are called where the spec does not name them, and the face that such a stream enters through."""


def is_hall(of: str | os.PathLike[str] | Mapping[str, Any]) -> bool:
    """Whether a document, or the TOML file of that name, states a hall. Raises InputError for what is no TOML file."""
    return HALL in (of if isinstance(of, Mapping) else _document(os.fspath(of)))


def load_hall(path: str | os.PathLike[str]) -> HallSpec:
    """The hall in the TOML file at ``path``; a rulebook that it names is looked up beside it.

    Raises InputError, one line with file, field and fault.
    """
    name = os.fspath(path)
    document = _document(name)
    try:
        return hall_from_document(document, beside=Path(name).parent, untitled=Path(name).stem)
    except InputError as error:
        raise error.within(printable(name)) from None


def hall_from_toml(text: str, *, beside: Path | None = None, untitled: str = "") -> HallSpec:
    """The hall that a TOML text states; ``beside``: the folder from which paths in it are seen.

    ``untitled``: its title where it states none. Raises InputError with field and fault.
    """
    return hall_from_document(parse_toml(text), beside=beside, untitled=untitled)


def hall_from_document(document: dict[str, Any], *, beside: Path | None = None, untitled: str = "") -> HallSpec:
    """The hall of a TOML document, as ``hall_from_toml``."""
    check_hall_schema(document)
    rulebook = rulebook_for(document.get("rules", {}).get("file", DEFAULT_RULEBOOK), beside)
    hall = _completed(document, rulebook, untitled)
    check_hall(document, hall)
    return hall


def check_hall_schema(document: dict[str, Any]) -> None:
    """Raises InputError with the first fault's field, as in ``hall.sides``, unless the published schema holds."""
    split = document.get("split")
    if isinstance(split, dict) and "outputs" in split:
        if HALL in document:
            raise InputError("belongs to the spec of one split; a hall has hall.furnaces", field="split.outputs")
        raise InputError("is missing; this is the spec of one split, and a hall is due: a table with furnaces, sides, "
                         "output, fires, fuel", field=HALL)  # fmt: skip
    fault = schema_fault(document, SCHEMA)
    if fault:
        place, told = told_in_toml(document, fault)
        raise InputError(told, field=json_place(place))


def _document(name: str) -> dict[str, Any]:
    try:
        return parse_toml(read_text(name, "a spec is TOML text"))
    except InputError as error:
        raise error.within(printable(name)) from None


def _completed(document: dict[str, Any], rulebook: Rulebook, untitled: str) -> HallSpec:
    """The hall of a document that follows the schema, with what it leaves out."""
    stated, split, site = document[HALL], document.get("split", {}), document.get("site", {})
    labels, output = stated.get("labels", {}), stated.get("output", "full")
    return HallSpec(
        title=document.get("title", untitled),
        furnaces=stated.get("furnaces"),
        sides=stated.get("sides", 1),
        output=None if output == "full" else Fraction(output),
        fires=stated["fires"],
        fuel=stated["fuel"],
        streams=_streams(document),
        rulebook=rulebook,
        rows=stated.get("rows"),
        product_bins=stated.get("product_bins"),
        inputs=stated.get("inputs"),
        product_finish=labels.get(PRODUCT, "plain"),
        reachable=frozenset(stated.get("reachable", [])),
        size=cell_of(site["size"]) if "size" in site else None,
        order=tuple(document.get("prefer", {}).get("order", DEFAULT_ORDER)),
        limits={kind: PartLimit(**limit) for kind, limit in document.get("parts", {}).items()},
        items=items_of(document.get("items", {}), rulebook),
        overrides={name: value for name, value in document.get("rules", {}).items() if name != "file"},
        demands=Demands(**{name: split[name] for name in DEMANDS if name in split}),
        blocked=frozenset(map(cell_of, site.get("blocked", []))),
    )


def _streams(document: dict[str, Any]) -> tuple[HallStream, ...]:
    """Both streams, the one from the top first; one that is not stated is called as usual."""
    named: dict[Face, str] = {}
    for name, stream in document.get("streams", {}).items():
        face = _face(name, stream, document[HALL])
        if face in named:
            first = json_place(("streams", named[face]))
            raise InputError(f'is {shown(face)}, as is that of {first}; one stream for each face ("top", "side")',
                             field=json_place(("streams", name, "enters")))  # fmt: skip
        named[face] = name
    for usual, face in USUAL.items():
        if face not in named and usual in named.values():
            raise InputError(f"enters from the {_other(face)}, and no stream from the {face} is stated; add one",
                             field=json_place(("streams", usual)))  # fmt: skip
        named.setdefault(face, usual)
    return tuple(_stream(named[face], face, document) for face in USUAL.values())


def _other(face: Face) -> Face:
    return "side" if face == "top" else "top"


def _face(name: str, stream: dict[str, Any], hall: dict[str, Any]) -> Face:
    """The face that a stream enters through: as it says, as its name says, as its item says."""
    stated: Face | None = stream.get("enters", USUAL.get(name))
    if stated is not None:
        return stated
    item, fires, fuel = stream.get("item"), hall["fires"], hall["fuel"]
    if fires != fuel and item in (fires, fuel):
        return "top" if item == fires else "side"
    raise InputError("is missing; it must be top or side", field=json_place(("streams", name, "enters")))


def _stream(name: str, face: Face, document: dict[str, Any]) -> HallStream:
    stated, hall = document.get("streams", {}).get(name, {}), document[HALL]
    said = {**document.get("split", {}), **stated}
    return HallStream(
        name=name,
        item=stated.get("item", hall["fires"] if face == "top" else hall["fuel"]),
        enters=face,
        even_for=said.get("even_for", "burst"),
        leftovers=said.get("leftovers", "deliver"),
        scheme=said.get("scheme"),
        finish=hall.get("labels", {}).get(name, "plain"),
    )
