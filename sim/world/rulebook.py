"""The numbers of the world, read from a rulebook file with their provenance (rulebook, preamble)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cache
from pathlib import Path
from typing import Any, Final

from sim.datafiles import data_dir
from sim.errors import InputError, nearest
from sim.world.files.places import json_place, printable
from sim.world.files.text import read_text
from sim.world.files.toml_text import parse_toml

FORMAT: Final = "splitwright-rules/1"
PROVENANCES: Final = ("practice", "memory")
DEFAULT_RULEBOOK: Final = "default"
MOST: Final = 1_000_000
"""Largest value of any number of the world; larger ones are slips, and would only burn time."""


@dataclass(frozen=True, slots=True)
class Rules:
    """The numbers in force. Ticks unless said otherwise; ``specs/rules/default.toml`` tells what each one means."""

    ticks_per_second: int
    period: int
    handover: int
    other_handover: int
    node_slots: int
    bin_slots: int
    stack: int
    reach: int
    inverter_delay: int
    gauge_delay: int
    relay_step: int
    firing: int
    retreat: int
    overheat_count: int
    overheat_window: int
    settling_rounds: int

    def with_overrides(self, overrides: Mapping[str, int]) -> Rules:
        """These rules with some numbers replaced; the keys must be names of ``OVERRIDABLE``."""
        return replace(self, **overrides) if overrides else self


RULE_NAMES: Final = tuple(f.name for f in fields(Rules))
FIXED: Final = ("ticks_per_second", "other_handover", "retreat", "settling_rounds")
"""What only a rulebook file states."""
OVERRIDABLE: Final = tuple(name for name in RULE_NAMES if name not in FIXED)
"""What a layout or a spec may override (formats, "Layout")."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a rulebook file: the value, where it is from, what it means."""

    name: str
    value: int
    provenance: str
    about: str


@dataclass(frozen=True, slots=True)
class Rulebook:
    """A rulebook file: rules, burn times of the fuels that it knows (ticks by kind), and every entry as it stands."""

    title: str
    rules: Rules
    burns: Mapping[str, int]
    entries: tuple[Entry, ...]


def rulebook_files() -> dict[str, Path]:
    """The rulebooks that come with splitwright, by name."""
    return {path.stem: path for path in sorted(data_dir("rules").glob("*.toml"))}


def load_rulebook(name: str = DEFAULT_RULEBOOK, *, beside: Path | None = None) -> Rulebook:
    """The rulebook called ``name``: one that comes with splitwright, or a ``.toml`` file (relative to ``beside``).

    Raises InputError when there is none such or the file breaks the form.
    """
    own = rulebook_files()
    if name in own:
        return _read(own[name], name)
    if not name.endswith(".toml"):
        raise InputError(f'no rulebook is called "{name}": {nearest(name, own)} (or name a .toml file)')
    path = (beside / name) if beside else Path(name)
    return _read(path, str(path))


@cache
def default_rules() -> Rules:
    """The numbers of the rulebook that holds unless another is named; read once."""
    return load_rulebook().rules


def known_handovers() -> tuple[int, int]:
    """Both handovers that worlds are known to use, the usual one first (section 3, "Handover")."""
    rules = default_rules()
    return rules.handover, rules.other_handover


def _read(path: Path, name: str) -> Rulebook:
    try:
        return _rulebook(parse_toml(read_text(str(path), "a rulebook is TOML text")), path.stem)
    except InputError as error:
        raise error.within(printable(name)) from None


def _rulebook(document: dict[str, Any], untitled: str) -> Rulebook:
    if document.pop("format", None) != FORMAT:
        raise InputError(f'must be "{FORMAT}"', field="format")
    title = _text(document.pop("title", untitled), ("title",))
    burns = document.pop("burn", {})
    for name in document:
        if name not in RULE_NAMES:
            raise InputError(f"unknown number; {nearest(name, RULE_NAMES)}", field=json_place((name,)))
    entries = [_entry(document.get(name), (name,)) for name in RULE_NAMES]
    if not isinstance(burns, dict):
        raise InputError("must be a table of fuels", field="burn")
    fuels = [_entry(raw, ("burn", kind)) for kind, raw in burns.items()]
    return Rulebook(
        title=title,
        rules=Rules(**{entry.name: entry.value for entry in entries}),
        burns={entry.name.removeprefix("burn."): entry.value for entry in fuels},
        entries=(*entries, *fuels),
    )


def _entry(raw: Any, place: tuple[str, ...]) -> Entry:
    if not isinstance(raw, dict):
        raise InputError("is missing; give value, provenance and about", field=json_place(place))
    value, provenance = raw.get("value"), raw.get("provenance")
    if type(value) is not int or not 1 <= value <= MOST:
        raise InputError(f"must be a whole number from 1 to {MOST}", field=json_place((*place, "value")))
    if provenance not in PROVENANCES:
        raise InputError('must be "practice" or "memory"', field=json_place((*place, "provenance")))
    return Entry(".".join(place), value, provenance, _text(raw.get("about", ""), (*place, "about")))


def _text(value: Any, place: tuple[str, ...]) -> str:
    if not isinstance(value, str):
        raise InputError("must be text", field=json_place(place))
    return value
