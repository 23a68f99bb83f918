"""Cells of a plan: one short code for each part as it can stand there (formats, "Plan")."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from sim.errors import nearest
from sim.world.files.places import one_of, shown
from sim.world.files.plan_words import KEYWORDS
from sim.world.geometry import Cell
from sim.world.parts import (
    DELAYS,
    MOUNTS,
    OUTLETS,
    OUTPUTS,
    Bin,
    Furnace,
    Gauge,
    Holds,
    Inverter,
    Line,
    Node,
    Part,
    Relay,
    Support,
)

EMPTY: Final = "."
_SIGNS: Final[dict[type[Part], str]] = {Bin: "B", Furnace: "F", Support: "#", Line: "-"}
_ORIGIN: Final = (0, 0, 0)


def code_of(part: Part) -> str:
    """The code of a part: ``B``, ``nE``, ``r2W``. Contents and cell are not in it."""
    if isinstance(part, Node):
        return f"n{part.outlet}"
    if isinstance(part, Inverter):
        return f"i{part.mount}"
    if isinstance(part, Relay):
        return f"r{part.delay}{part.output}"
    if isinstance(part, Gauge):
        return f"g{part.output}"
    if isinstance(part, Bin) and part.finish == "marked":
        return "B*"
    return _SIGNS[type(part)]


_MODELS: Final[tuple[Part, ...]] = (
    Support(_ORIGIN),
    Bin(_ORIGIN),
    Bin(_ORIGIN, "marked"),
    Furnace(_ORIGIN),
    Line(_ORIGIN),
    *(Node(_ORIGIN, outlet) for outlet in OUTLETS),
    *(Inverter(_ORIGIN, mount) for mount in MOUNTS),
    *(Relay(_ORIGIN, output, delay) for delay in DELAYS for output in OUTPUTS),
    *(Gauge(_ORIGIN, output) for output in OUTPUTS),
)
CODES: Final[dict[str, Part]] = {code_of(model): model for model in _MODELS}
"""A model part for every code that is written, in the order of legends."""
READ_AS: Final[dict[str, Part]] = {**CODES, **{f"r{output}": Relay(_ORIGIN, output) for output in OUTPUTS}}
"""What else is read: a relay without a digit has delay 1."""


def is_cell(word: str) -> bool:
    """``word`` is a cell of a plan."""
    return word == EMPTY or word in READ_AS


def part_at(code: str, at: Cell, holds: Holds = ()) -> Part:
    """The part that ``code`` stands for, at ``at``; ``holds`` only for containers."""
    model = READ_AS[code]
    return replace(model, at=at, holds=holds) if isinstance(model, (Bin, Node, Furnace)) else replace(model, at=at)


def cell_fault(word: str) -> str:
    """What is wrong with a word that is no cell."""
    families = {
        "n": f"a node is n and its outlet {one_of(OUTLETS)}, as in nE",
        "i": f"an inverter is i and its mount {one_of(MOUNTS)}, as in iS",
        "r": f"a relay is r, its delay 1 to {DELAYS[-1]} and its output {one_of(OUTPUTS)}, as in r2W",
        "g": f"a gauge is g and its output {one_of(OUTPUTS)}, as in gN",
    }
    if len(word) <= 3 and word[0] in families:
        return f"{shown(word)} is no cell; {families[word[0]]}"
    hint = nearest(word, [*READ_AS, *KEYWORDS])
    if word.upper() in READ_AS:
        hint = f'did you mean "{word.upper()}"?'
    if not hint.startswith("did"):
        hint = "cells are . # B B* F - and nE, iS, r2W, gN with their directions"
    return f"{shown(word)} is no cell; {hint}"
