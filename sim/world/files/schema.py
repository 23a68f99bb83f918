"""The published schemas, and their faults in one line each.

The validator is jsonschema; its messages are not used, because they quote the whole value and the schema's inside.
What would be right is said from the schema itself: its ranges and choices, and its ``title`` for anything composite.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any, Final

from jsonschema import Draft202012Validator, ValidationError, validators

from sim.datafiles import data_dir
from sim.errors import InputError, nearest
from sim.world.files.places import Place, json_place, one_of, shown

Fault = tuple[Place, str]
"""Where it is and what is wrong."""


def _is_whole(_checker: Any, value: Any) -> bool:
    """Whole numbers written as such: neither ``true`` nor ``2.0``, which the standard's "integer" takes."""
    return isinstance(value, int) and not isinstance(value, bool)


_extend: Any = validators.extend  # the stubs leave it untyped
StrictValidator: Final = _extend(
    Draft202012Validator, type_checker=Draft202012Validator.TYPE_CHECKER.redefine("integer", _is_whole)
)


@cache
def published(name: str) -> dict[str, Any]:
    """The schema called ``name`` ("splitwright-layout-1")."""
    text = (data_dir("schema") / f"{name}.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


@cache
def validator(name: str, definition: str = "") -> Any:
    """Validator of a published schema, or of one of its definitions. The result is shared."""
    schema = published(name)
    if definition:
        schema = {"$schema": schema["$schema"], "$defs": schema["$defs"], "$ref": f"#/$defs/{definition}"}
    return StrictValidator(schema)


def first_fault(checker: Any, document: Any) -> Fault | None:
    """The fault to tell of: an unknown key before a missing one (a slip of the pen makes both), else by place.

    A repeat comes last: of ``[1, 0, 0]`` where a list of cells is due it is no help to hear that 0 stands twice.
    """
    errors: list[ValidationError] = list(checker.iter_errors(document))
    return _fault(min(errors, key=_urgency), checker.schema["$defs"]) if errors else None


def check_document(document: Any, name: str, definition: str = "") -> None:
    """Raises InputError, with field and fault, unless the document follows the published schema, or that definition."""
    if fault := first_fault(validator(name, definition), document):
        raise InputError(fault[1], field=json_place(fault[0]))


def _urgency(error: ValidationError) -> tuple[int, list[tuple[bool, str | int]]]:
    rank = {"additionalProperties": 0, "required": 1, "uniqueItems": 3}.get(str(error.validator), 2)
    return rank, [(isinstance(way, str), way) for way in error.absolute_path]


def _fault(error: ValidationError, definitions: dict[str, Any]) -> Fault:
    place: Place = tuple(error.absolute_path)
    schema: Any = error.schema
    instance: Any = error.instance
    if "propertyNames" in error.absolute_schema_path:
        return (*place, instance), f"a key must be {right(schema)}, not {shown(instance)}"
    if error.validator == "additionalProperties":
        known = list(schema["properties"])
        unknown = next(key for key in instance if key not in known)
        return (*place, unknown), f"unknown key; {nearest(unknown, known)}"
    if error.validator == "required":
        missing = next(key for key in schema["required"] if key not in instance)
        wanted = schema["properties"][missing]
        wanted = definitions.get(wanted.get("$ref", "").removeprefix("#/$defs/"), wanted)
        return (*place, missing), f"is missing; it must be {right(wanted)}"
    if error.validator == "uniqueItems":
        i = _first_repeated([json.dumps(entry) for entry in instance])
        return (*place, i), f"{shown(instance[i])} stands twice; keep one"
    return place, f"must be {right(schema)}, not {shown(instance)}"


def _first_repeated(texts: list[str]) -> int:
    seen: set[str] = set()
    for i, text in enumerate(texts):
        if text in seen:
            return i
        seen.add(text)
    return 0


def right(schema: dict[str, Any]) -> str:
    """What a schema asks for, in words."""
    if "const" in schema:
        return shown(schema["const"])
    if "enum" in schema:
        return one_of([str(choice) for choice in schema["enum"]])
    if schema.get("type") == "integer":
        most = f" to {schema['maximum']}" if "maximum" in schema else " up"
        return f"a whole number from {schema['minimum']}{most}"
    return str(schema.get("title", schema.get("type", "something else")))
