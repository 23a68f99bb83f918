"""Specs as the searching commands take them: read, checked, and refused where no scheme does what they ask."""

from __future__ import annotations

from pathlib import Path

from sim.errors import InputError
from sim.parts import PART_KINDS
from sim.rulebook import Rulebook
from synth.hall.spec import HallSpec
from synth.hall.spec_file import is_hall, load_hall
from synth.schemes.batched_row import JOINED as BATCHED
from synth.schemes.registry import every_admissible, no_scheme, schemes
from synth.spec import PartLimit, Spec
from synth.spec_file import load_spec


def known_spec(path: Path) -> Spec:
    """The spec in a file. Raises InputError for bad input, and for a split that no scheme serves."""
    spec = load_spec(path)
    if not every_admissible(spec):
        raise InputError(no_scheme(spec), file=str(path), field="split")
    return spec


def known_hall(path: Path) -> HallSpec:
    """The hall in a file. Raises InputError for bad input, and for a stream that no scheme of a hall serves."""
    from synth.hall.kits import may_be_gated, repeats, serving  # what halls take is loaded for halls alone

    hall = load_hall(path)
    for stream in hall.streams:
        if not serving(stream) and not may_be_gated(hall, stream):
            known = ", ".join([*(name for name, scheme in schemes().items() if repeats(scheme)), BATCHED.name])
            eased = stream.leftovers == "deliver" and stream.scheme is None
            cure = ' as it is; say leftovers = "hold", or even_for = "burst"' if eased else ""
            fault = f"no scheme of a hall serves it{cure}: its rows are alike all along, with one lock each ({known})"
            raise InputError(fault, file=str(path), field=f"streams.{stream.name}")
    return hall


def prices_and_rulebook(path: Path) -> tuple[dict[str, int], Rulebook]:
    """The prices of a spec, of a split or of a hall, by kind (empty where it sets none), and its rulebook.

    Raises InputError for bad input.
    """
    spec = load_hall(path) if is_hall(path) else load_spec(path)
    return prices_of(spec), spec.rulebook


def prices_of(spec: Spec | HallSpec) -> dict[str, int]:
    """The price of one part of each kind; empty where the spec leaves every one at what it is unless stated."""
    prices = {kind: spec.limit(kind).price for kind in PART_KINDS}
    return prices if any(price != PartLimit().price for price in prices.values()) else {}
