"""Names that must differ, so that whoever builds can tell what is meant: kinds of parts, and letters on plans."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Final

from sim.errors import InputError
from sim.world.files.places import json_place, shown
from sim.world.geometry import ALL_DIRECTIONS
from sim.world.parts import PART_KINDS

RULES: Final[tuple[tuple[str, str, Sequence[str], str], ...]] = (
    ("part", "parts", tuple(PART_KINDS), "each kind of part needs a name of its own, for one and for several"),
    ("letter", "directions", ALL_DIRECTIONS, "each direction needs a letter of its own"),
)
"""Family of phrases, the table of a labels file that sets it, what has a name in it, and what would be right."""


def check_told_apart(phrases: Mapping[str, str], house: Collection[str]) -> None:
    """Raises InputError where two kinds of parts have one name, for one or for several, or two directions one letter.

    ``phrases``: what is in force; ``house``: keys of those that the labels file sets, which is where the fault is told.
    Capitals and spaces do not tell names apart. Linear in the names.
    """
    for family, table, named, right in RULES:
        taken: dict[str, str] = {}
        # The house's names come last, so that what is told is one of them.
        for one in sorted(named, key=lambda one: f"{family}.{one}" in house):
            for form in phrases[f"{family}.{one}"].split("|") if family == "part" else [phrases[f"{family}.{one}"]]:
                plain = " ".join(form.split()).casefold()
                if taken.setdefault(plain, one) != one:
                    fault = f"{shown(form.strip())} is what {taken[plain]} has already; {right}"
                    raise InputError(fault, field=json_place((table, one)))
