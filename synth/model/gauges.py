"""Gauges read the watched nodes of the rows and nothing else (scheme), and no relay can be latched (scope)."""

from __future__ import annotations

from sim.world.geometry import HORIZONTAL, SIDES
from synth.model.vocabulary import SUPPORT, Vocabulary, back, gauge


def gauges_read_watched_nodes(v: Vocabulary) -> None:
    """The watched node stands directly behind the gauge, or right behind a support that does."""
    for cell in v.cells:
        for output in HORIZONTAL:
            near = back(cell, output)
            far = back(near, output)
            for s in v.streams:
                for watch in v.question.scheme.watches:
                    here, direct = v.is_(cell, gauge(output, s, watch.label)), v.watched(near, s, watch)
                    v.clauses.add(-here, direct, v.is_(near, SUPPORT))
                    v.clauses.add(-here, direct, v.watched(far, s, watch))


def no_relay_is_latched(v: Vocabulary) -> None:
    """No relay or gauge faces a side of a relay: what a lock does must not depend on what was before."""
    for cell in v.cells:
        for output in HORIZONTAL:
            for other in SIDES[output]:
                facing = back(cell, other)
                for source in (v.is_relay(facing, other), v.is_gauge(facing, other)):
                    v.clauses.add(-v.is_relay(cell, output), -source)


def watched_nodes_are_read(v: Vocabulary) -> None:
    """Some gauge of each label stands for each row: the locks depend on all (redundant, found by propagation late)."""
    for s in v.streams:
        for label in v.labels:
            v.clauses.add(*(v.is_(cell, gauge(d, s, label)) for cell in v.cells for d in HORIZONTAL))

