"""Specs as the searching commands take them: read, checked, and refused where no scheme does what they ask."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from sim.errors import InputError
from sim.world.files.places import printable
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import PART_KINDS
from synth.ask.hall_spec import HallSpec
from synth.ask.spec import PartLimit, Spec
from synth.hall.spec_file import is_hall, load_hall
from synth.read.spec_file import load_spec
from synth.schemes.batched_row import JOINED as BATCHED
from synth.schemes.registry import every_admissible, no_scheme, schemes


def known_spec(path: Path) -> Spec:
    """The spec in a file. Raises InputError for bad input, and for a split that no scheme serves."""
    spec = load_spec(path)
    if not every_admissible(spec):
        raise InputError(no_scheme(spec), file=str(path), field="split")
    return spec


def known_hall(path: Path) -> HallSpec:
    """The hall in a file. Raises InputError for bad input, and for a stream that no scheme of a hall serves."""
    hall = load_hall(path)
    try:
        check_hall_served(hall)
    except InputError as error:
        raise InputError(error.fault, file=str(path), field=error.field) from None
    return hall


def check_hall_served(hall: HallSpec) -> None:
    """Raises InputError, with the field, for a stream that no scheme of a hall serves."""
    from synth.hall.kits import may_be_gated, repeats, serving  # what halls take is loaded for halls alone

    for stream in hall.streams:
        if not serving(stream) and not may_be_gated(hall, stream):
            known = ", ".join([*(name for name, scheme in schemes().items() if repeats(scheme)), BATCHED.name])
            eased = stream.leftovers == "deliver" and stream.scheme is None
            cure = ' as it is; say leftovers = "hold", or even_for = "burst"' if eased else ""
            fault = f"no scheme of a hall serves it{cure}: its rows are alike all along, with one lock each ({known})"
            raise InputError(fault, field=f"streams.{stream.name}")


def any_spec(path: Path) -> Spec | HallSpec:
    """The spec in a file, of a split or of a hall. Raises InputError for bad input."""
    return load_hall(path) if is_hall(path) else load_spec(path)


def check_same_job(path: Path, spec: Spec | HallSpec, layouts: Mapping[str, Layout]) -> None:
    """Raises InputError where the spec in the file asks for another job than one of the layouts does (by the names of
    their files; one without a stream does none)."""
    asked = _asked(spec)
    for name, layout in layouts.items():
        done = _served(layout)
        if done and any(kind not in done or (n is not None and done[kind] != n) for kind, n in asked.items()):
            fault = f"asks for another job ({_in_words(asked)}) than {name} does ({_in_words(done)})"
            raise InputError(f"{fault}; give the spec that it was made for", file=printable(str(path)))


def _asked(spec: Spec | HallSpec) -> dict[str, int | None]:
    """Each kind that is shared out, and among how many furnaces (None: as many as it takes)."""
    n = spec.furnaces if isinstance(spec, HallSpec) else spec.outputs
    return {stream.item: n for stream in spec.streams}


def _served(layout: Layout) -> dict[str, int]:
    """Each kind that a layout shares out, and among how many outputs."""
    outputs: dict[str, set[Cell]] = {}
    for stream in layout.streams:
        outputs.setdefault(stream.item, set()).update(stream.outputs)
    return {kind: len(cells) for kind, cells in outputs.items()}


def _in_words(job: Mapping[str, int | None]) -> str:
    return ", ".join(f"{printable(kind)} for {'any number' if n is None else n}" for kind, n in job.items())


def job_of(layout: Layout) -> tuple[int, ...]:
    """What layouts must have in common to be ranked as one field: among how many outputs each kind is shared out,
    whatever the kinds are called; empty without a stream."""
    return tuple(sorted(_served(layout).values()))


def blocked_in(spec: Spec | HallSpec, layout: Layout) -> frozenset[Cell]:
    """The cells that the spec says are taken, where the layout stands on the spec's own site; else none."""
    return spec.blocked if spec.size == layout.size else frozenset()


def prices_of(spec: Spec | HallSpec) -> dict[str, int]:
    """The price of one part of each kind; empty where the spec leaves every one at what it is unless stated."""
    prices = {kind: spec.limit(kind).price for kind in PART_KINDS}
    return prices if any(price != PartLimit().price for price in prices.values()) else {}
