"""Feed row and fuel row of one wing, kept apart: whether their wiring couples, and where the second must not go."""

from __future__ import annotations

from collections.abc import Iterator

from sim.checks import design_findings
from sim.geometry import HORIZONTAL, VECTORS, Cell, step
from sim.layout import ItemKind, Layout
from sim.rulebook import Rules
from synth.hall.joining import Gaps, joined
from synth.hall.lanes import End, Lane
from synth.hall.piece_question import Barred, smallest_number
from synth.hall.pieces import WIRING, RowPieces
from synth.hall.wing import Wing
from synth.schemes.registry import scheme_named


def rows_apart(feed: RowPieces, fuel: RowPieces, end: End, rules: Rules) -> bool:
    """A short wing of both has no design findings: no signal of one row gets into the other."""
    n = max(smallest_number(scheme_named(row.scheme)) for row in (feed, fuel))
    wing = Wing(n, feed, fuel, end, finishes={"side": "marked"})
    together = joined([[wing]], Gaps())
    if len({part.at for part in together.parts()}) < len(together.parts()):
        return False
    layout = Layout(
        "",
        together.size,
        {"feed": ItemKind(fires_to="product"), "fuel": ItemKind(burn=rules.firing)},
        tuple(together.parts()),
        (*together.streams("top", "feed", "feed"), *together.streams("side", "fuel", "fuel")),
    )
    return not design_findings(layout, rules)


def barred_beside(feed: RowPieces, lane: Lane, n: int) -> Barred:
    """No wiring of the fuel row next to wiring of the feed row's head and tail, nor a line where it would link to one.

    In the coordinates of a wing of n, the number that the fuel row's pieces are cut from.
    """
    return frozenset(
        (cell, kind)
        for cell in _cells_beside(feed, n)
        if cell[1] * lane.wiring >= lane.y * lane.wiring
        for kind in WIRING
    )


def _cells_beside(feed: RowPieces, n: int) -> Iterator[Cell]:
    for part in feed.wiring(n):
        for direction in VECTORS:
            yield step(part.at, direction)
        if part.kind == "line":
            for direction in HORIZONTAL:
                for up in (step(part.at, "U"), step(part.at, "D")):
                    yield step(up, direction)


