"""A row made of pieces, by itself, in the simulator."""

from __future__ import annotations

from collections.abc import Sequence

from sim.world.geometry import Cell
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Part
from sim.world.rulebook import Rules
from synth.confirm.confirmation import works_at_all
from synth.confirm.trials import Terms
from synth.hall.lanes import Lane, furnace, furnaces, row_parts
from synth.hall.pieces import RowPieces, shifted
from synth.schemes.registry import scheme_named
from synth.search.known.gate import source_of

ITEM = "load"


def works_as_a_row(pieces: RowPieces, lane: Lane, n: int, rules: Rules, handovers: Sequence[int]) -> bool:
    """A row of n of these pieces passes the quick screen of trials under each of the handovers.

    The item neither fires nor is fired, but burns, so that both faces take it.
    """
    scheme = scheme_named(pieces.scheme)
    trickles = "stream" in scheme.even_for
    terms = Terms(scheme.held(n, rules, rules.stack), trickles)
    return works_at_all(short_row(pieces, lane, n, rules), rules, handovers, terms)


def short_row(pieces: RowPieces, lane: Lane, n: int, rules: Rules, placed: tuple[Part, ...] = ()) -> Layout:
    """A row of n of these pieces, nothing else of the wing; behind the gate of these parts, where there are any."""
    scheme = scheme_named(pieces.scheme)
    holds = scheme.start(ITEM, rules.stack, rules)
    parts: list[Part] = [*furnaces(n), *row_parts(lane, scheme, n, holds), *pieces.wiring(n), *placed]
    low = tuple(min(part.at[axis] for part in parts) for axis in range(3))
    high = tuple(max(part.at[axis] for part in parts) for axis in range(3))

    def moved(cell: Cell) -> Cell:
        return cell[0] - low[0], cell[1] - low[1], cell[2]

    source = source_of(placed) if placed else lane.source(scheme.first)
    stream = Stream("row", ITEM, moved(source), tuple(moved(furnace(i)) for i in range(1, n + 1)))
    return Layout(
        title="",
        size=(high[0] - low[0] + 1, high[1] - low[1] + 1, high[2] + 1),
        items={ITEM: ItemKind(burn=rules.firing)},
        parts=tuple(shifted(parts, (-low[0], -low[1], 0))),
        streams=(stream,),
    )
