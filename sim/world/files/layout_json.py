"""``splitwright-layout/1``: the layout as JSON, both ways (formats, "Layout")."""

from __future__ import annotations

import json
from collections.abc import Iterable
from functools import cache
from typing import Any, Final

from sim.errors import InputError, nearest
from sim.world.files.consistency import check_consistency, outside, size_fault
from sim.world.files.places import Place, Where, json_place, shown
from sim.world.files.schema import Fault, StrictValidator, first_fault, published, validator
from sim.world.files.strict_json import parse_json
from sim.world.geometry import Cell
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import PART_KINDS, Bin, Furnace, Gauge, Holds, Inverter, Node, Part, Relay
from sim.world.rulebook import Rules

FORMAT: Final = "splitwright-layout/1"
SCHEMA: Final = "splitwright-layout-1"


def layout_from_json(source: str | dict[str, Any], base: Rules | None = None) -> Layout:
    """The layout that a JSON text, or a document already parsed, states. ``base``: the rulebook it overrides.

    Raises InputError with the first fault's field, as in ``parts[3].outlet``, and what would be right.
    """
    document = parse_json(source) if isinstance(source, str) else source
    try:
        check_schema(document)
    except RecursionError:
        # only a deep nest where none belongs: the validator writes it into its own message
        raise InputError("is nested too deeply") from None
    layout = layout_of(document, map(_part, document["parts"]))
    check_consistency(layout, json_place, base)
    return layout


def layout_of(document: dict[str, Any], parts: Iterable[Part]) -> Layout:
    """The layout of a document that is known to follow the schema, with ``parts`` for those it lists."""
    width, depth, height = document["size"]
    return Layout(
        title=document.get("title", ""),
        size=(width, depth, height),
        items={name: ItemKind(**item) for name, item in document.get("items", {}).items()},
        parts=tuple(parts),
        streams=tuple(map(_stream, document.get("streams", []))),
        rules=dict(document.get("rules", {})),
    )


def check_schema(document: Any) -> None:
    """Raises InputError unless the published schema holds. Parts are judged by their ``kind``, one by one."""
    check_head(document)
    size: tuple[int, int, int] = tuple(document["size"])
    for i, part in enumerate(document["parts"]):
        fault = _part_fault(part, size)
        if fault:
            raise InputError(fault[1], field=json_place(("parts", i, *fault[0])))


def check_head(document: Any, where: Where = json_place) -> None:
    """Raises InputError unless all but the single parts follows the published schema."""
    fault = _head_fault(document)
    if fault:
        raise InputError(fault[1], field=where(fault[0]))


def layout_to_json(layout: Layout) -> dict[str, Any]:
    """The document of a layout; every key is there, in the order of the formats page."""
    return {
        "format": FORMAT,
        "title": layout.title,
        "size": list(layout.size),
        "items": {name: _item_document(item) for name, item in layout.items.items()},
        "parts": [_part_document(part) for part in layout.parts],
        "streams": [_stream_document(stream) for stream in layout.streams],
        "rules": dict(layout.rules),
    }


def layout_json_text(layout: Layout) -> str:
    """The document as text for files: one part, stream and item a line."""
    document = layout_to_json(layout)
    items = [f"{_line(name)}: {_line(item)}" for name, item in document["items"].items()]
    return (
        f'{{"format": {_line(FORMAT)}, "title": {_line(layout.title)}, "size": {_line(document["size"])},\n'
        f' "items": {{{_rows(items, 11)}}},\n'
        f' "parts": [{_rows(map(_line, document["parts"]), 11)}],\n'
        f' "streams": [{_rows(map(_line, document["streams"]), 13)}],\n'
        f' "rules": {_line(document["rules"])}}}\n'
    )


def _line(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


def _rows(rows: Iterable[str], indent: int) -> str:
    return (",\n" + " " * indent).join(rows)


# --- reading


@cache
def _head_validator() -> Any:
    schema = published(SCHEMA)
    parts = {key: value for key, value in schema["properties"]["parts"].items() if key != "items"}
    return StrictValidator({**schema, "properties": {**schema["properties"], "parts": parts}})


def _head_fault(document: Any) -> Fault | None:
    if not isinstance(document, dict):
        return (), f"must be a layout document, an object with format, size and parts, not {shown(document)}"
    if document.get("format") != FORMAT:
        if "format" not in document:
            return ("format",), f"is missing; it must be {shown(FORMAT)}"
        return ("format",), f"must be {shown(FORMAT)}, not {shown(document['format'])}"
    fault = first_fault(_head_validator(), document)
    return fault or size_fault(tuple(document["size"]))


def _part_fault(part: Any, size: tuple[int, int, int]) -> Fault | None:
    if not isinstance(part, dict):
        return (), f"must be a part, an object with kind and at, not {shown(part)}"
    kind = part.get("kind")
    if "kind" not in part:
        return ("kind",), f"is missing; known are {', '.join(PART_KINDS)}"
    if not isinstance(kind, str) or kind not in PART_KINDS:
        hint = nearest(kind, PART_KINDS) if isinstance(kind, str) else f"known are {', '.join(PART_KINDS)}"
        return ("kind",), f"unknown kind {shown(kind)}; {hint}"
    fault = first_fault(validator(SCHEMA, kind), part)
    return _told_of_size(fault, part, size) if fault else None


def _told_of_size(fault: Fault, part: dict[str, Any], size: tuple[int, int, int]) -> Fault:
    """A whole number out of range in ``at`` is told as what it is: a part outside the size."""
    place: Place = fault[0]
    if len(place) == 2 and place[0] == "at" and all(type(number) is int for number in part["at"]):
        x, y, z = part["at"]
        return ("at",), outside((x, y, z), size)
    return fault


def _part(document: dict[str, Any]) -> Part:
    fields = {key: value for key, value in document.items() if key != "kind"}
    fields["at"] = _cell(document["at"])
    if "holds" in fields:
        fields["holds"] = _holds(document["holds"])
    return PART_KINDS[document["kind"]](**fields)


def _holds(slots: list[list[Any] | None]) -> Holds:
    return tuple(None if slot is None else (slot[0], slot[1]) for slot in slots)


def _cell(numbers: list[int]) -> Cell:
    x, y, z = numbers
    return x, y, z


def _stream(document: dict[str, Any]) -> Stream:
    outputs = tuple(map(_cell, document["outputs"]))
    return Stream(document["name"], document["item"], _cell(document["source"]), outputs)


# --- writing


def _item_document(item: ItemKind) -> dict[str, Any]:
    document: dict[str, Any] = {}
    if item.stack is not None:
        document["stack"] = item.stack
    if item.fires_to is not None:
        document["fires_to"] = item.fires_to
    if item.burn:
        document["burn"] = item.burn
    return document


def _part_document(part: Part) -> dict[str, Any]:
    document: dict[str, Any] = {"kind": part.kind, "at": list(part.at)}
    if isinstance(part, Bin):
        document["finish"] = part.finish
    elif isinstance(part, Node):
        document["outlet"] = part.outlet
    elif isinstance(part, Inverter):
        document["mount"] = part.mount
    elif isinstance(part, (Relay, Gauge)):
        document["output"] = part.output
    if isinstance(part, Relay):
        document["delay"] = part.delay
    if isinstance(part, (Bin, Node, Furnace)) and part.holds:
        document["holds"] = [None if slot is None else list(slot) for slot in part.holds]
    return document


def _stream_document(stream: Stream) -> dict[str, Any]:
    return {
        "name": stream.name,
        "item": stream.item,
        "source": list(stream.source),
        "outputs": [list(output) for output in stream.outputs],
    }
