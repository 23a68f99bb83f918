"""What the exact search leaves out without loss: relays and gauges that act on nothing.

Such a part is one whose front cell holds nothing that it acts on, and which gives no line a direction. Rulebook section
4 names all that a relay or gauge does to other parts: it drives what is in its front (a node, a solid cell, a line, a
relay that faces the same way, a gauge that it faces from a side), and lines beside it connect to it (any side of a
gauge; the back and the front of a relay). Without the part, then, every other part is in the same state in every tick,
every node locked when it was, and nothing hung on it: a layout with such parts splits just when the one without them
does, and that one has fewer parts, fits the same box and the same limits. So wherever there is a layout there is one
without such parts, and "none exists" and "fewest" hold for all layouts. (Relays that face a relay's side are no
solutions of the model.) A claim about one given layout (``synth.confirm.membership``) asks the model itself.
"""

from __future__ import annotations

from collections.abc import Iterator

from sim.world.geometry import HORIZONTAL, SIDES, Cell, Direction, step
from synth.model.clauses import Lit
from synth.model.vocabulary import FURNACE, LINE, STANDING, SUPPORT, Vocabulary, back


def leave_out_needless(v: Vocabulary) -> None:
    """Every relay and gauge may act on something. Time: linear in the cells."""
    for cell in v.cells:
        for output in HORIZONTAL:
            front = list(_acted_on(v, step(cell, output), output))
            v.clauses.add(-v.is_relay(cell, output), *front, v.is_(back(cell, output), LINE))
            beside = (v.is_(step(cell, side), LINE) for side in HORIZONTAL)
            v.clauses.add(-v.is_gauge(cell, output), *front, *beside)


def _acted_on(v: Vocabulary, front: Cell, output: Direction) -> Iterator[Lit]:
    """Literals that say that the cell holds what a relay or gauge with that output in front of it acts on."""
    for stream in v.streams:
        yield v.is_row(front, stream)
        yield v.is_drop(front, stream)
    for kind in (STANDING, SUPPORT, FURNACE, LINE):
        yield v.is_(front, kind)
    yield v.is_relay(front, output)
    for side in SIDES[output]:
        yield v.is_gauge(front, side)
