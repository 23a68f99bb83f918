"""Wiring that does nothing: parts that drive no lock, runs without a source, nodes that the lock line passes by.

None of it keeps a build from splitting evenly, so these checks refuse no proposal; but where a build does not work it
is most often one of them that tells why: a gauge turned the wrong way, a line that ends a cell too soon.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import networkx as nx

from sim.checks.reach import full_levels, runs
from sim.couplings.graph import InfluenceGraph, Vertex, influence_graph
from sim.couplings.rows import trunk_of
from sim.geometry import OPPOSITE, Cell, cell_text, step
from sim.layout import Layout
from sim.parts import Gauge, Inverter, Node, Part, Relay
from sim.rulebook import Rules
from sim.signals.bounds import bounds
from sim.signals.field import Field
from sim.signals.wiring import Wiring, wiring_of
from sim.world import Finding


def idle_wiring(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """All of it, by the graph of influence (``sim.couplings``), which has every influence there is; ``rules``: those in
    force. Time: that of the graph."""
    if not layout.streams:
        return
    graph = influence_graph(layout, rules)
    _, most = bounds(graph.wiring, rules.reach)
    yield from _drives_nothing(graph, most)
    yield from _no_source(graph.wiring, rules)
    yield from _passed_by(layout, graph.wiring, most)


def _drives_nothing(graph: InfluenceGraph, most: Field) -> Iterator[Finding]:
    """A gauge, relay or inverter whose state can change, and no lock with it; a relay that nothing switches on.

    Gauges that read nothing have a check of their own; and a part that is there to bend a line does something.
    """
    wiring, lockable = graph.wiring, _lockable(graph)
    for number, part in enumerate(wiring.parts):
        me, name = Vertex("part", number), f"the {part.kind} at {cell_text(part.at)}"
        if isinstance(part, Relay) and not most.out[number]:
            text = (
                f"{name} can never be on: no signal comes to the cell behind it at "
                f"{cell_text(step(part.at, OPPOSITE[part.output]))}; bring one there, or turn the relay round"
            )
            yield Finding("never on", text, at=part.at)
        elif me in graph.varying and me not in lockable and not _shapes_lines(graph.layout, part):
            yield Finding("drives nothing", f"{name} {_goes_nowhere(graph.layout, part)}", at=part.at)


def _no_source(wiring: Wiring, rules: Rules) -> Iterator[Finding]:
    """A run of lines that nothing feeds, however full the containers are."""
    level = full_levels(wiring, rules)
    for run in runs(wiring):
        if not any(level[line] for line in run):
            first = wiring.lines[run[0]]
            more = f" and {len(run) - 1} more of its run have" if len(run) > 1 else " has"
            text = (
                f"the line at {cell_text(first)}{more} no source: no gauge, relay or inverter feeds it; bring one to "
                "it, or take it away"
            )
            yield Finding("no source", text, at=first)


def _passed_by(layout: Layout, wiring: Wiring, most: Field) -> Iterator[Finding]:
    """A node that feeds an output and can never be locked, where others of its row can.

    Of a last one it is no fault: a muster row means it so.
    """
    can_lock = {cell for number, cell in enumerate(wiring.nodes) if most.locked[number]}
    for stream in layout.streams:
        below = [step(cell, "D") for cell in trunk_of(layout, step(stream.source, "D"))]
        drops = [cell for cell in below if isinstance(layout.by_cell.get(cell), Node)]
        locked = [cell for cell in drops if cell in can_lock]
        for cell in drops[:-1] if locked else []:
            if cell not in can_lock:
                text = (
                    f"the node at {cell_text(cell)} can never be locked, and the one at {cell_text(locked[0])}, in the "
                    f"same row of {stream.name}, can; bring what locks that one past this one too"
                )
                yield Finding("never locked", text, at=cell)


def _shapes_lines(layout: Layout, part: Part) -> bool:
    """Without the part some line would point elsewhere."""
    without = replace(layout, parts=tuple(one for one in layout.parts if one is not part))
    return _pointing(wiring_of(layout)) != _pointing(wiring_of(without))


def _pointing(wiring: Wiring) -> list[tuple[set[Cell], set[Cell]]]:
    """What each line, in file order, points into or lies on."""
    solids = [{wiring.solids[solid] for solid in energised} for energised in wiring.weak_into]
    return [(a, {wiring.nodes[node] for node in b}) for a, b in zip(solids, wiring.nodes_of_line, strict=True)]


def _lockable(graph: InfluenceGraph) -> set[Vertex]:
    """All from which a way leads to a node."""
    nodes = [vertex for vertex in graph.varying if vertex.kind == "node"]
    backwards = graph.varying.reverse(copy=False)
    return set(nodes).union(*(nx.descendants(backwards, node) for node in nodes))


def _goes_nowhere(layout: Layout, part: Gauge | Inverter | Relay) -> str:
    """What becomes of what the part says, and what to do."""
    if isinstance(part, Inverter):
        return "changes no lock; bring a line from it to a node, or take it away"
    front = step(part.at, part.output)
    there = layout.by_cell.get(front)
    if there is None:
        return f"points into the empty cell at {cell_text(front)}; put a line there, or turn it round"
    return f"points into the {there.kind} at {cell_text(front)}, and changes no lock; turn it round, or take it away"
