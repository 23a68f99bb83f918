"""Nodes that are locked whatever the containers hold."""

from __future__ import annotations

from collections.abc import Iterator

from sim.checks.flow import containers_by_stream
from sim.geometry import cell_text
from sim.layout import Layout
from sim.parts import Gauge, Inverter, SignalPart
from sim.rulebook import Rules
from sim.signals.field import Field
from sim.signals.wants import is_latched, relay_input
from sim.signals.wiring import Wiring, wiring_of
from sim.world import Finding


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


def bounds(wiring: Wiring, reach: int) -> tuple[Field, Field]:
    """The least and the most that every part can deliver once the signals have settled.

    A gauge that reads something can deliver anything. From bounds as wide as can be each part's own law narrows its
    bounds until nothing changes: interval analysis, sound for loops too. Time: at most parts times parts.
    """
    least, most = Field(wiring, reach), Field(wiring, reach)
    for i in range(len(wiring.parts)):
        most.set_out(i, reach)
    narrowed = True
    while narrowed:
        narrowed = False
        for i, part in enumerate(wiring.parts):
            low, high = _narrowed(least, most, i, part)
            if (low, high) != (least.out[i], most.out[i]):
                least.set_out(i, low)
                most.set_out(i, high)
                narrowed = True
    return least, most


def _narrowed(least: Field, most: Field, i: int, part: SignalPart) -> tuple[int, int]:
    full = most.reach
    match part:
        case Inverter():
            solid = most.wiring.input_solid[i]
            low = 0 if solid >= 0 and most.energised[solid] else full
            return low, 0 if solid >= 0 and least.energised[solid] else full
        case Gauge():
            return 0, full if most.wiring.reads[i] is not None else 0
        case _:
            if is_latched(most, i):  # a latch may keep whatever the relay was while the signals settled
                return 0, full
            return full if relay_input(least, i) else 0, full if relay_input(most, i) else 0


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
