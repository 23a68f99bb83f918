"""What an answer of ``improve`` is about, in sentences: what counts as passing, among which lists it is the best."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from sim.world.files.places import box_text
from synth.improve.reading import Meant
from synth.model.plots import Size, windows
from synth.search.scope import FILE_ORDER, scope_of
from synth.solving.cadical import SOLVER

SINGLE: Final = (
    "single changes: in one cell a part added, taken away, turned, set or replaced, sources and furnaces left where "
    "they stand; a new part comes last in the update order"
)
FACES: Final = {"top": "from the top", "side": "from the side"}


def of_passing(meant: Meant, needed: Sequence[int]) -> str:
    """What a build must do."""
    under = " and ".join(map(str, needed))
    trials = f"every trial of {kinds(scheme.name for scheme in meant.schemes)} even under handover {under}"
    return f"to pass: no finding of the design checks, and {trials}"


def of_failing(meant: Meant, needed: Sequence[int]) -> list[str]:
    """Of a list of one change: nothing costs less, for the build fails as it stands."""
    return [of_passing(meant, needed), "it fails as it stands"]


def of_singles(meant: Meant, needed: Sequence[int], count: int, box: Size) -> list[str]:
    """Of a list of two changes: no single one will do."""
    return [of_passing(meant, needed), no_single(count, box), SINGLE]


def no_single(count: int, box: Size) -> str:
    """All single changes were tried, in vain."""
    return f"no single change in {cells(box)} does it (all {count} tried in the simulator)"


def of_model(meant: Meant, needed: tuple[int, ...]) -> list[str]:
    """Of lists that the constraint model knows."""
    schemes: list[str] = []
    for scheme in meant.schemes:
        spec = meant.under(scheme)
        schemes += (told for told in scope_of(spec, windows(spec, needed), needed) if told != FILE_ORDER)
    stay = "sources and furnaces stay where they stand" + (", so does what serves no row" if meant.standing else "")
    faces = ", ".join(f"{stream.name} {FACES[stream.enters]}" for stream in meant.spec.streams)
    return [
        *dict.fromkeys(schemes),
        f"lists: {stay}; no bin, furnace or node more than the rows need, each row in one layer, into the furnaces as "
        f"the most nodes lead now ({faces}); update order of the file, in which a new part takes the place of the one "
        "it replaces, or comes last; what stays as it is keeps what it starts with, all else starts empty",
        SOLVER,
    ]


def kinds(schemes: Iterable[str]) -> str:
    """"a burst row or a muster row"."""
    return " or ".join(f"{'an' if name[0] in 'aeiou' else 'a'} {name}" for name in schemes)


def cells(box: Size) -> str:
    """"5 x 4 x 4 cells"."""
    return f"{box_text(box)} cells"
