"""Nodes that another row's signals lock, product nodes that anything locks, each with the way that the signal takes."""

from __future__ import annotations

from collections.abc import Iterator

from sim.analysis.checks.explained import Explained
from sim.analysis.checks.flow import containers_by_stream
from sim.analysis.couplings.found import locks_of_others
from sim.analysis.couplings.rows import rows_of
from sim.analysis.couplings.study import study_of
from sim.world.layout import Layout
from sim.world.rulebook import Rules
from sim.world.world import Finding


def couples(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """A node of one row that signals of another can lock; told once for all that hang on the same web of signals.

    Where signals of two rows meet first, ``touching runs`` tells it; what is always locked on a stream's way, ``always
    locked``. Silent without a second row to couple with.
    """
    rows = rows_of(layout)
    if len(rows.names) < 2 and rows.product not in rows.names:
        return
    told = containers_by_stream(layout)
    for coupling in locks_of_others(study_of(layout, rules)):
        if not (coupling.is_always and told.keys() >= set(coupling.nodes)):
            yield Explained("couples", coupling.text, at=coupling.at, streams=coupling.streams, path=coupling.path)
