"""Wings whose rows stand behind gates: a gate for each row that is to be even for any arrivals (``known/gate``)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import islice, product
from math import prod
from typing import Final

from sim.analysis.couplings import couplings
from sim.world.parts import Part
from sim.world.rulebook import Rules
from synth.ask.spec import Face
from synth.hall.joining import Gaps, joined, layout_alone
from synth.hall.pieces import RowPieces
from synth.hall.wing import Wing
from synth.schemes.batched_row import JOINED as BATCHED
from synth.search.known.batched import splits_two_batches
from synth.search.known.gate import beside, gate

LONGEST_WAY: Final = 16
"""Nodes between a gate and the bin that it feeds that are tried."""
LOWEST: Final = 1
"""Layer of the lowest parts of a gate: the product lane lies below."""
PLACES_TRIED: Final = 160
"""Places of the gates of one wing that are checked and run, at the most."""


def is_gated(row: RowPieces) -> bool:
    """There is to be a gate in front of the row."""
    return row.scheme == BATCHED.name


def with_gates(wing: Wing, rules: Rules) -> Wing | None:
    """The wing with a gate for each row that is to have one, within its lanes, in as few cells as are found; None: no
    place was found where nothing couples."""
    faces = [row.face for row in wing.rows if is_gated(row)]
    if not faces:
        return wing
    tried = sorted(_placed(wing, faces, rules), key=_cells)
    return next((one for one in islice(tried, PLACES_TRIED) if _works(one, rules)), None)


def _placed(wing: Wing, faces: list[Face], rules: Rules) -> Iterator[Wing]:
    """The gates in every order and place."""
    parts = tuple(gate(wing.n, rules))
    taken = frozenset(part.at for part in wing.parts())
    options: dict[Face, list[tuple[Part, ...]]] = {face: [] for face in faces}
    for face in faces:
        finish = wing.finishes.get(face, "plain")
        for placed in beside(wing.source(face), taken, parts, LONGEST_WAY, finish):
            if all(part.at[1] in wing.depth and part.at[2] >= LOWEST for part in placed):
                options[face].append(placed)
    for chosen in product(*options.values()):
        cells = [part.at for placed in chosen for part in placed]
        if len(set(cells)) == len(cells):
            yield replace(wing, gates=dict(zip(faces, chosen, strict=True)))


def _cells(wing: Wing) -> tuple[int, int]:
    """Of the box around the wing; then the nodes that lead to it."""
    return prod((len(wing.columns), len(wing.depth), wing.height)), sum(map(len, wing.gates.values()))


def _works(wing: Wing, rules: Rules) -> bool:
    """By itself no signal of one row gets into the other, and it splits two batches of each stream. (What else design
    checks find, they find in the whole hall.)"""
    layout = layout_alone(joined([[wing]], Gaps()), rules)
    if next(iter(couplings(layout, rules)), None) is not None:
        return False
    gated = (stream for stream, row in zip(layout.streams, wing.rows, strict=True) if is_gated(row))
    return all(splits_two_batches(layout, stream, rules) for stream in gated)
