"""Which runs, solid cells and parts lock which nodes; nodes that nothing can lock, and those that are always locked."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sim.analysis.workings.circuit import Circuit
from sim.world.signals.field import line_nets
from sim.world.statement import Statement, mentions

Numbers = tuple[int, ...]


def lock_statements(circuit: Circuit) -> Iterator[Statement]:
    """What can lock nodes, run by run, then part by part; then nodes that are never or always locked.

    Linear in what touches lines, solid cells and nodes.
    """
    layout, wiring = circuit.layout, circuit.wiring
    if not wiring.nodes:
        yield Statement("workings.nodes_none")
        return
    yield from _of_runs(circuit)
    yield from _of_parts(circuit)
    never = [cell for i, cell in enumerate(wiring.nodes) if not circuit.most.locked[i]]
    always = [cell for i, cell in enumerate(wiring.nodes) if circuit.least.locked[i]]
    if never:
        yield Statement("workings.locks_never", {"nodes": mentions(layout, never)})
    if always:
        yield Statement("workings.locks_always", {"nodes": mentions(layout, always)})


def _of_runs(circuit: Circuit) -> Iterator[Statement]:
    """Runs of lines that can be lit: the solid cells that they energise beside nodes, nodes that they point into."""
    layout, wiring, most = circuit.layout, circuit.wiring, circuit.most
    for run in sorted(tuple(sorted(run)) for run in line_nets(wiring)[1]):
        lit = [line for line in run if most.level[line]]
        lines = mentions(layout, (wiring.lines[line] for line in lit))
        solids = sorted({s for line in lit for s in wiring.weak_into[line] if wiring.nodes_of_solid[s]})
        if solids:
            nodes = _nodes(wiring.nodes_of_solid[solid] for solid in solids)
            yield Statement(
                "workings.run_by_solids",
                {
                    "lines": lines,
                    "solids": mentions(layout, (wiring.solids[solid] for solid in solids)),
                    "nodes": mentions(layout, (wiring.nodes[node] for node in nodes)),
                },
            )
        if straight := _nodes(wiring.nodes_of_line[line] for line in lit):
            nodes_told = mentions(layout, (wiring.nodes[node] for node in straight))
            yield Statement("workings.run_straight", {"lines": lines, "nodes": nodes_told})


def _of_parts(circuit: Circuit) -> Iterator[Statement]:
    """Parts that energise a solid cell beside nodes, or deliver into nodes, without any line between."""
    layout, wiring = circuit.layout, circuit.wiring
    for i, part in enumerate(wiring.parts):
        if not circuit.most.out[i]:
            continue
        me = mentions(layout, [part.at])
        for solid in wiring.strong_into[i]:
            if wiring.nodes_of_solid[solid]:
                nodes = mentions(layout, (wiring.nodes[node] for node in sorted(wiring.nodes_of_solid[solid])))
                solids = mentions(layout, [wiring.solids[solid]])
                yield Statement("workings.part_by_solid", {"part": me, "solid": solids, "nodes": nodes})
        if wiring.nodes_of_part[i]:
            nodes = mentions(layout, (wiring.nodes[node] for node in sorted(wiring.nodes_of_part[i])))
            yield Statement("workings.part_straight", {"part": me, "nodes": nodes})


def _nodes(tables: Iterable[Numbers]) -> list[int]:
    return sorted({node for nodes in tables for node in nodes})
