"""Gauges read the watched ends of the rows and nothing else (scheme), and no relay can be latched (scope)."""

from __future__ import annotations

from sim.geometry import HORIZONTAL, SIDES
from synth.model.vocabulary import ENDS, SUPPORT, Vocabulary, back, gauge


def gauges_read_watched_nodes(v: Vocabulary) -> None:
    """The watched node stands directly behind the gauge, or right behind a support that does."""
    for cell in v.cells:
        for output in HORIZONTAL:
            near = back(cell, output)
            far = back(near, output)
            for s in v.streams:
                for end in ENDS:
                    here, direct = v.is_(cell, gauge(output, s, end)), v.watched(near, s, end)
                    v.clauses.add(-here, direct, v.is_(near, SUPPORT))
                    v.clauses.add(-here, direct, v.watched(far, s, end))


def no_relay_is_latched(v: Vocabulary) -> None:
    """No relay or gauge faces a side of a relay: what a lock does must not depend on what was before."""
    for cell in v.cells:
        for output in HORIZONTAL:
            for other in SIDES[output]:
                facing = back(cell, other)
                for source in (v.is_relay(facing, other), v.is_gauge(facing, other)):
                    v.clauses.add(-v.is_relay(cell, output), -source)


def watched_ends_are_read(v: Vocabulary) -> None:
    """Some gauge reads each end of each row: the lock depends on both (redundant, found by propagation late)."""
    for s in v.streams:
        for end in ENDS:
            v.clauses.add(*(v.is_(cell, gauge(d, s, end)) for cell in v.cells for d in HORIZONTAL))


