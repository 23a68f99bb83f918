"""Nodes that are locked whatever the containers hold."""

from __future__ import annotations

from collections.abc import Iterator

from sim.analysis.checks.flow import containers_by_stream
from sim.world.geometry import cell_text
from sim.world.layout import Layout
from sim.world.rulebook import Rules
from sim.world.signals.bounds import bounds as bounds
from sim.world.signals.field import Field
from sim.world.signals.wiring import wiring_of
from sim.world.world import Finding


def always_locked(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """A node on a stream's way that stays locked, whatever any gauge reads and whatever any loop of parts does."""
    wiring = wiring_of(layout)
    least, _ = bounds(wiring, rules.reach)
    on_the_way = containers_by_stream(layout)
    for number, cell in enumerate(wiring.nodes):
        if least.locked[number] and cell in on_the_way:
            text = (
                f"the node at {cell_text(cell)} is always locked: {_cause(least, number)}, whatever the gauges read; "
                "let a gauge switch that off, or take it away"
            )
            yield Finding("always locked", text, at=cell)


def _cause(field: Field, node: int) -> str:
    """One thing that locks the node."""
    w = field.wiring
    for solid in w.solids_of_node[node]:
        if field.energised[solid]:
            return f"the solid cell at {cell_text(w.solids[solid])} is energised"
    for part in w.parts_of_node[node]:
        if field.out[part]:
            return f"the {w.parts[part].kind} at {cell_text(w.parts[part].at)} delivers into it"
    line = next(line for line in w.lines_of_node[node] if field.level[line])
    return f"the line at {cell_text(w.lines[line])} points into it"
