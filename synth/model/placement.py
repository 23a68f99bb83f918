"""One part a cell, and what each part hangs on (rulebook sections 1 and 2)."""

from __future__ import annotations

from sim.world.geometry import step
from sim.world.parts import MOUNTS
from synth.model.vocabulary import LINE, Vocabulary, inverter


def one_part_per_cell(v: Vocabulary) -> None:
    """Each cell holds just one of its kinds; each relay has one delay."""
    for cell in v.cells:
        v.clauses.exactly_one(v.kind[cell].values())
        v.clauses.exactly_one(v.delay[cell].values())
        any_relay = v.clauses.any_of(v.of_name(cell, "relay"))
        v.clauses.add(any_relay, v.delay[cell][1])  # without a relay the delay means nothing: fixed


def every_part_supported(v: Vocabulary) -> None:
    """line, relay and gauge need a solid cell directly below; an inverter needs one on its mount side."""
    for cell in v.cells:
        below = v.is_solid(step(cell, "D"))
        for standing in [v.is_(cell, LINE), *v.of_name(cell, "relay"), *v.of_name(cell, "gauge")]:
            v.clauses.add(-standing, below)
        for mount in MOUNTS:
            v.clauses.add(-v.is_(cell, inverter(mount)), v.is_solid(step(cell, mount)))
