"""A spec file (formats, "Spec: TOML") to a spec: read, held against the published schema, completed, checked."""

from __future__ import annotations

import os
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from sim.errors import InputError
from sim.world.files.places import printable
from sim.world.files.text import read_text
from sim.world.files.toml_text import parse_toml
from sim.world.geometry import Cell, Direction
from sim.world.layout import ItemKind
from sim.world.rulebook import DEFAULT_RULEBOOK, Rulebook, load_rulebook
from synth.ask.spec import DEFAULT_ORDER, Demands, PartLimit, Spec, StreamSpec
from synth.read.spec_checks import check_spec
from synth.read.spec_schema import cell_of, check_schema

DEMANDS: Final = tuple(field.name for field in fields(Demands))
"""Keys of ``[split]`` that say what is to be shown of a layout."""


def load_spec(path: str | os.PathLike[str]) -> Spec:
    """The spec in the TOML file at ``path``.

    A rulebook that it names is looked up beside it. Raises InputError, one line with file, field and fault.
    """
    name = os.fspath(path)
    try:
        text = read_text(name, "a spec is TOML text")
        return spec_from_toml(text, beside=Path(name).parent, untitled=Path(name).stem)
    except InputError as error:
        raise error.within(printable(name)) from None


def spec_from_toml(text: str, *, beside: Path | None = None, untitled: str = "") -> Spec:
    """The spec that a TOML text states; ``beside``: the folder from which paths in it are seen.

    ``untitled``: its title where it states none. Raises InputError with field and fault.
    """
    document = parse_toml(text)
    check_schema(document)
    rulebook = rulebook_for(document.get("rules", {}).get("file", DEFAULT_RULEBOOK), beside)
    spec = _completed(document, rulebook, untitled)
    check_spec(document, spec)
    return spec


def rulebook_for(name: str, beside: Path | None) -> Rulebook:
    """The rulebook that ``rules.file`` names. Raises InputError."""
    try:
        return load_rulebook(name, beside=beside)
    except InputError as error:
        if error.field:  # a fault inside the rulebook's own file
            raise
        fault = f'"{error.file}": {error.fault}' if error.file else error.fault
        raise InputError(fault, field="rules.file") from None


def _completed(document: dict[str, Any], rulebook: Rulebook, untitled: str) -> Spec:
    """The spec of a document that follows the schema, with what it leaves out."""
    split, site = document["split"], document["site"]
    width, depth, height = site["size"]
    overrides = {name: value for name, value in document.get("rules", {}).items() if name != "file"}
    return Spec(
        title=document.get("title", untitled),
        outputs=split["outputs"],
        size=(width, depth, height),
        streams=tuple(_stream(name, stream) for name, stream in document["streams"].items()),
        rulebook=rulebook,
        even_for=split.get("even_for", "burst"),
        leftovers=split.get("leftovers", "deliver"),
        holds_most=split.get("holds_most"),
        row=split.get("row", "any"),
        blocked=frozenset(map(cell_of, site.get("blocked", []))),
        order=tuple(document.get("prefer", {}).get("order", DEFAULT_ORDER)),
        limits={kind: PartLimit(**limit) for kind, limit in document.get("parts", {}).items()},
        items=items_of(document.get("items", {}), rulebook),
        overrides=overrides,
        scheme=split.get("scheme"),
        demands=Demands(**{name: split[name] for name in DEMANDS if name in split}),
    )


def items_of(listed: dict[str, Any], rulebook: Rulebook) -> dict[str, ItemKind]:
    """The kinds that the spec lists, as it states them, then the fuels that only the rulebook knows."""
    fuels = {kind: ItemKind(burn=burn) for kind, burn in rulebook.burns.items() if kind not in listed}
    return {kind: ItemKind(**item) for kind, item in listed.items()} | fuels


def _stream(name: str, stream: dict[str, Any]) -> StreamSpec:
    return StreamSpec(
        name=name,
        item=stream["item"],
        enters=stream.get("enters", "top"),
        source=_source(stream.get("source", "any")),
        outputs_at=tuple(map(cell_of, stream.get("outputs_at", []))),
    )


def _source(stated: Any) -> Cell | Direction | None:
    if isinstance(stated, list):
        return cell_of(stated)
    side: Direction | None = None if stated == "any" else stated
    return side
