"""A page for each published schema: every field with what it may be."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, Final

from reference.commands import PRINTS
from reference.markdown import code, contents, plain, table
from sim.datafiles import data_dir

Schema = dict[str, Any]
WRITTEN: Final = {
    "spec": ("a spec, which `propose`, `tighter` and `watch` take", "specs/three-kilns.toml"),
    "hall": ("a spec of a hall, which `propose`, `tighter`, `size` and `watch` take", "specs/sixteen-kilns.toml"),
    "labels": ("house names, which `sheet`, `propose` and `labels` have to do with", "specs/labels/brickyard.toml"),
    "layout": ("a build; people type it as a [plan](../plans.md)", None),
    "case": ("a trial to be run again: `assure` writes it, `trial` and `sheet` take it with `--case`", None),
    "pieces": ("solved pieces of rows for halls: `propose` keeps it with `--pieces`", None),
    "search": ("what a search has come to: `tighter` and `propose` go on from it with `--resume`", None),
    "atlas": ("the builds that come with splitwright", None),
}
"""Files: what each is, and one that comes with the clone, if people write it."""


@cache
def schemas() -> dict[str, Schema]:
    """Every published schema, by its short name."""
    found = {}
    for path in sorted(data_dir("schema").glob("*.json")):
        found[path.stem.removeprefix("splitwright-").removesuffix("-1")] = json.loads(path.read_text(encoding="utf-8"))
    return found


def document_pages() -> dict[str, str]:
    """A page a schema, and the list of them."""
    pages = {f"documents/{name}.md": "\n".join(_page(name, schema)) for name, schema in schemas().items()}
    files = [(f"[{name}](documents/{name}.md)", what) for name, (what, _) in WRITTEN.items()]
    printed = [(f"[{name}](documents/{name}.md)", _printers(name)) for name in schemas() if name not in WRITTEN]
    pages["documents.md"] = "\n".join(
        [
            "# Files and documents",
            "",
            "Every form below has a published JSON Schema in `specs/schema`; these pages are made from them. Specs and"
            " labels are TOML with the same names.",
            "",
            "## Files",
            "",
            *table(("file", "is"), files),
            "## Printed with --json",
            "",
            *table(("document", "printed by"), printed),
            *contents(f"documents/{name}" for name in (*WRITTEN, *(name for name in schemas() if name not in WRITTEN))),
        ]
    )
    return pages


def _printers(name: str) -> str:
    return ", ".join(f"`splitwright {command} --json`" for command, documents in PRINTS.items() if name in documents)


def _page(name: str, schema: Schema) -> list[str]:
    lines = [f"# {name.capitalize()}: {plain(schema['title'])}", ""]
    if "description" in schema:
        lines += [plain(schema["description"]), ""]
    if name in WRITTEN:
        lines += [f"This is {WRITTEN[name][0]}.".replace("](../plans.md)", "](../../plans.md)"), ""]
    if _printers(name):
        lines += [f"Printed by {_printers(name)}.", ""]
    for title, part in _tables(schema):
        required = part.get("required", [])
        rows = [
            (code(key), _value(field), "yes" if key in required else _default(field), plain(_about(field)))
            for key, field in part["properties"].items()
        ]
        lines += [f"## {title}", "", *table(("name", "value", "needed, or else", "means"), rows)]
    named = [(code(key), _value(one), plain(one.get("description", ""))) for key, one in _plain_definitions(schema)]
    if named:
        lines += ["## Words used above", "", *table(("word", "is", "means"), named)]
    example = WRITTEN.get(name, ("", None))[1]
    if example:
        text = (Path(__file__).resolve().parents[3] / example).read_text(encoding="utf-8")
        lines += ["## One that comes with the clone", "", f"`{example}`:", "", "```toml", text.rstrip(), "```", ""]
    return lines


def _tables(schema: Schema) -> Iterator[tuple[str, Schema]]:
    """The objects with named fields in it, outermost first, each with a heading."""
    if "properties" in schema:
        yield "At the top", schema
        yield from _inner("", schema)
    for key, part in schema.get("$defs", {}).items():
        if "properties" in part:
            yield code(key), part
        yield from _inner(key, part)


def _inner(path: str, part: Schema) -> Iterator[tuple[str, Schema]]:
    for key, field in part.get("properties", {}).items():
        for below in _below(field):
            where = f"{path}.{key}".lstrip(".")
            if "properties" in below:
                yield code(where), below
            yield from _inner(where, below)
    for below in _below(part) if "properties" not in part else ():
        if "properties" in below:
            yield code(f"each {path}"), below
        yield from _inner(path, below)


def _below(field: Schema) -> Iterator[Schema]:
    """The field itself, or what stands in a list, a table or a choice of it."""
    if "properties" in field:
        yield field
        return
    for key in ("items", "additionalProperties"):
        if isinstance(field.get(key), dict):
            yield from _below(field[key])
    for key in ("anyOf", "oneOf", "prefixItems"):
        for one in field.get(key, ()):
            yield from _below(one)


def _plain_definitions(schema: Schema) -> list[tuple[str, Schema]]:
    return [(key, one) for key, one in schema.get("$defs", {}).items() if "properties" not in one]


def _value(field: Any) -> str:
    """What a field may be, in words."""
    if not isinstance(field, dict):
        return "anything" if field else "nothing"
    if "title" in field:
        return plain(field["title"])
    if "$ref" in field:
        return code(field["$ref"].rpartition("/")[2])
    if "const" in field:
        return code(json.dumps(field["const"]))
    if "enum" in field:
        return ", ".join(code(json.dumps(one)) for one in field["enum"])
    for key in ("anyOf", "oneOf"):
        if key in field:
            return " or ".join(_value(one) for one in field[key])
    kinds = field.get("type", "anything")
    return " or ".join(_kind(kind, field) for kind in ([kinds] if isinstance(kinds, str) else kinds))


def _kind(kind: str, field: Schema) -> str:
    if kind in ("integer", "number"):
        word = "whole number" if kind == "integer" else "number"
        least, most = field.get("minimum"), field.get("maximum")
        if least is not None and most is not None:
            return f"{word} from {least} to {most}"
        return word if least is None else f"{word}, at least {least}"
    if kind == "array":
        if "prefixItems" in field:
            return f"list of {', '.join(_value(one) for one in field['prefixItems'])}"
        return f"list of {_value(field.get('items', True))}"
    if kind == "object":
        inner = field.get("additionalProperties")
        return f"table of {_value(inner)}" if isinstance(inner, dict) else "table"
    return {"string": "text", "boolean": "true or false"}.get(kind, kind)


def _default(field: Schema) -> str:
    return code(json.dumps(field["default"])) if "default" in field else ""


def _about(field: Schema) -> str:
    return str(field.get("description", ""))
