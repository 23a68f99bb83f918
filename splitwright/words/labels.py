"""House names: a labels file over the phrases of a language."""

from __future__ import annotations

import os
from collections.abc import Mapping
from difflib import get_close_matches
from string import Formatter
from typing import Any, Final

from sim.errors import InputError, nearest
from sim.world.files.places import json_place, one_of, printable, shown
from sim.world.files.schema import check_document
from sim.world.files.text import read_text
from sim.world.files.toml_text import parse_toml
from sim.world.layout import Layout
from splitwright.words.catalogue import catalogue, languages
from splitwright.words.items import items_of
from splitwright.words.telling_apart import check_told_apart
from splitwright.words.words import MANY, ONE, TOWARD, Words, is_noun

SCHEMA: Final = "splitwright-labels-1"
WRITING: Final = "sheet.writing"
WAYS_OF_WRITING: Final = ("ltr", "rtl")
"""From left to right, from right to left: HTML's own words (attribute ``dir``)."""
SLIP: Final = 0.5
"""Likeness from which on a name is taken for a slip of another (difflib's ratio), as in ``sim.errors.nearest``."""
BASE: Final = "en"
"""The language whose phrases stand in for those that a language lacks."""


def load_labels(path: str | os.PathLike[str]) -> Words:
    """The words of a labels file. Raises InputError, one line with file, field and fault."""
    name = os.fspath(path)
    try:
        return words_from(parse_toml(read_text(name, "a labels file is TOML text")))
    except InputError as error:
        raise error.within(printable(name)) from None


def item_notes(path: str | os.PathLike[str], words: Words, *layouts: Layout) -> list[str]:
    """A line for each item that the labels file names, that none of the layouts has, and that looks like a slip of one
    that they have. No fault: a house may have one file for all its layouts. To be told on standard error."""
    known = sorted(set[str]().union(*map(items_of, layouts)))
    where = "the layout" if len(layouts) == 1 else "any of the layouts"
    return [
        f"{printable(os.fspath(path))}: {json_place(('items', kind))}: a name for an item that is not in {where}"
        + f"; {nearest(kind, map(printable, known))}"
        for kind in words.unknown_items(*layouts)
        if get_close_matches(kind, known, n=1, cutoff=SLIP)
    ]


def words_from(document: dict[str, Any]) -> Words:
    """The words that the document of a labels file states. Raises InputError with field and fault."""
    check_document(document, SCHEMA)
    language, stated = document.get("language", BASE), document.get("phrases", {})
    known = known_language(language)
    ours = catalogue(BASE if known is None else known)
    _check_phrases(stated, ours)
    house = {**stated, **_parts(document.get("parts", {})), **_directions(document.get("directions", {}))}
    if known is None:
        _check_whole(language, house, ours)
    phrases = {**ours, **house}
    check_told_apart(phrases, house)
    return Words(language, phrases, document.get("items", {}))


def known_language(tag: str) -> str | None:
    """The language that there are phrases for: the tag's own, or its first part's ("de" of "de-AT"); None: neither."""
    return next((known for known in (tag, tag.partition("-")[0].lower()) if known in languages()), None)


def _check_whole(language: str, house: Mapping[str, str], ours: Mapping[str, str]) -> None:
    """Raises InputError where phrases of ours would stand on a page that says it is in another language."""
    if lacking := [key for key in ours if key not in house]:
        raise InputError(
            f"there are no phrases in {shown(language)}, only in {' and '.join(languages())}; a file that has every "
            f"phrase itself may name any language (splitwright labels --phrases prints them), but this one lacks "
            f"{len(lacking)} of {len(ours)}, as {shown(lacking[0])}",
            field="language",
        )


def _check_phrases(stated: Mapping[str, str], known: Mapping[str, str]) -> None:
    """Raises InputError for a phrase that there is not, or that asks for what its sentence does not say."""
    for key, phrase in stated.items():
        field = json_place(("phrases", key))
        if key not in known:
            raise InputError(f"there is no such phrase; {nearest(key, known)}", field=field)
        due = fields_of(known[key])
        if key == WRITING and phrase not in WAYS_OF_WRITING:
            raise InputError(f"must be {one_of(WAYS_OF_WRITING)}, not {shown(phrase)}", field=field)
        try:
            extra = fields_of(phrase) - due | unknown_nouns(phrase, known)
        except ValueError:
            raise InputError("has a brace that is not closed; double it ({{ or }}) to write one", field=field) from None
        if extra:
            choices = ", ".join(f"{{{name}}}" for name in sorted(due)) or "none"
            raise InputError(f"has the field {shown(min(extra))}; it can have {choices}", field=field)


def fields_of(phrase: str) -> set[str]:
    """What a phrase is to be filled with. Raises ValueError for a brace that is not closed."""
    return {field for field in _fields(phrase) if not is_noun(field)}


def unknown_nouns(phrase: str, known: Mapping[str, str]) -> set[str]:
    """Fields of a phrase that look like those for a kind of part or a direction, of which there is none."""
    families = {ONE: "part", MANY: "part", TOWARD: "direction"}
    nouns = {field: field.partition(".") for field in _fields(phrase) if is_noun(field)}
    return {field for field, (family, _, name) in nouns.items() if f"{families[family]}.{name}" not in known}


def _fields(phrase: str) -> set[str]:
    """Every field, with whatever is asked of it."""
    parsed = [(name, spec, turn) for _, name, spec, turn in Formatter().parse(phrase) if name is not None]
    return {name + (f"!{turn}" if turn else "") + (f":{spec}" if spec else "") for name, spec, turn in parsed}


def _parts(stated: Mapping[str, str | list[str]]) -> dict[str, str]:
    """As in the catalogue: "one | many". A bar within a name would be taken for that bar: it becomes a broken one."""
    forms = {kind: [noun, noun] if isinstance(noun, str) else noun for kind, noun in stated.items()}
    return {f"part.{kind}": " | ".join(form.replace("|", "¦") for form in pair) for kind, pair in forms.items()}


def _directions(stated: Mapping[str, str | dict[str, str]]) -> dict[str, str]:
    found = {}
    for way, label in stated.items():
        if isinstance(label, str):
            found[f"direction.{way}"] = label
        else:
            found[f"direction.{way}"] = label["name"]
            found[f"letter.{way}"] = label["letter"]
    return found
