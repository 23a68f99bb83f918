"""How many ticks locks follow a change in a container, and the ticks of a node's own turns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sim.analysis.couplings.graph import Vertex
from sim.analysis.workings.circuit import Circuit, Cone, cone_of
from sim.analysis.workings.logic import LockGroup
from sim.world.geometry import Cell
from sim.world.signals.timing import delay_of
from sim.world.statement import Statement, Value, mention, mentions

Ticks = tuple[int, int]
"""The least and the most."""


def timing_statements(circuit: Circuit, groups: Sequence[LockGroup]) -> Iterator[Statement]:
    """For each group that has a condition, each container that it hangs on; then period and handover."""
    for group in groups:
        if group.truth is not None and group.containers:
            yield from _of_group(circuit, group)
    if circuit.wiring.nodes:
        yield Statement("workings.period", {"period": circuit.rules.period})
        yield Statement("workings.handover", {"handover": circuit.rules.handover})
    else:
        yield Statement("workings.nodes_none")


def _of_group(circuit: Circuit, group: LockGroup) -> Iterator[Statement]:
    told: dict[tuple[Cell, Ticks], tuple[set[Cell], list[Cell]]] = {}
    for node in group.nodes:
        cone = cone_of(circuit, node)
        for container in group.containers:
            gauges = [i for i in cone.parts if circuit.wiring.reads[i] == container]
            ways = [ticks for gauge in gauges if (ticks := ticks_between(circuit, cone, gauge, node)) is not None]
            span = min(least for least, _ in ways), max(most for _, most in ways)
            seen, nodes = told.setdefault((container, span), (set(), []))
            seen.update(circuit.wiring.parts[i].at for i in gauges)
            nodes.append(circuit.wiring.nodes[node])
    for (container, (least, most)), (gauge_cells, nodes) in told.items():
        layout = circuit.layout
        values: dict[str, Value] = {
            "container": mention(layout, container),
            "gauges": mentions(layout, sorted(gauge_cells)),
            "nodes": mentions(layout, nodes),
        }
        if least == most:
            yield Statement("workings.delay", {**values, "ticks": least})
        else:
            yield Statement("workings.delay_between", {**values, "least": least, "most": most})


def ticks_between(circuit: Circuit, cone: Cone, gauge: int, node: int) -> Ticks | None:
    """The ticks of the quickest and of the slowest way from what a gauge reads to the lock of a node; None: no way.

    The gauge's own delay included; lines and solid cells take no time. Linear in the cone.
    """
    start, target = Vertex("part", gauge), Vertex("node", node)
    delay = delay_of(circuit.wiring.parts[gauge], circuit.rules)
    spans: dict[Vertex, Ticks] = {start: (delay, delay)}
    for vertex in (*cone.order, target):
        before = [spans[other] for other in circuit.graph.varying.predecessors(vertex) if other in spans]
        if before and vertex != start:
            own = delay_of(circuit.wiring.parts[vertex.number], circuit.rules) if vertex.kind == "part" else 0
            spans[vertex] = min(least for least, _ in before) + own, max(most for _, most in before) + own
    return spans.get(target)
