"""How much room a hall takes, told before anything is put together or run: of close wings whose pieces are kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from synth.ask.hall_spec import HallSpec
from synth.hall.cross_section import SCOPE
from synth.hall.joining import Gaps, joined, pairs_of
from synth.hall.kits import Tools, close_kits
from synth.hall.piece_file import Pieces
from synth.hall.putting_together import wings_of
from synth.hall.section_bounds import hall_bound
from synth.solving.budget import Budget


@dataclass(frozen=True, slots=True)
class Footprint:
    """``box``: of the tightest hall that the kept pieces make, which no simulator has seen yet; ``at_least``: cells
    that every hall of its kind takes (None: nothing is shown)."""

    box: tuple[int, int, int]
    at_least: int | None

    @property
    def cells(self) -> int:
        """Cells of the box."""
        width, depth, height = self.box
        return width * depth * height

    def as_json(self) -> dict[str, Any]:
        """As it stands in ``--json`` documents."""
        bound = {} if self.at_least is None else {"at_least": self.at_least, "scope": SCOPE}
        return {"box": list(self.box), "cells": self.cells, **bound}


def footprint(spec: HallSpec, furnaces: int, pieces: Pieces) -> Footprint | None:
    """The least room in which close wings for so many furnaces stand; None: their pieces are not kept, or not for what
    the spec asks. Linear in the furnaces."""
    side = -(-furnaces // spec.sides)
    found = []
    for kit in close_kits(spec, Tools(pieces, Budget(0.0), 1, 0, lambda _: None)):
        rows = -(-side // kit.longest) if spec.rows is None else spec.rows
        sides = wings_of(spec, furnaces, rows, kit) if rows * kit.longest >= side else None
        if sides is not None and spec.product_bins in (None, len(pairs_of(sides))):
            across, depth, height = joined(sides, Gaps(0)).size
            bound = hall_bound((kit.feed, kit.fuel), [wing.n for side in sides for wing in side], spec.rules)
            found.append(Footprint((across, depth, height), None if bound is None else bound.of(furnaces)))
    return min(found, key=lambda one: one.cells, default=None)
