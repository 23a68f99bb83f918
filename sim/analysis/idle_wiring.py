"""Wiring that does nothing: parts that drive no lock, runs without a source, nodes that the lock line passes by.

None of it keeps a build from splitting evenly, so these checks refuse no proposal; but where a build does not work it
is most often one of them that tells why: a gauge turned the wrong way, a line that ends a cell too soon.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import networkx as nx

from sim.analysis.checks import design_findings
from sim.analysis.checks.reach import full_levels, runs
from sim.analysis.couplings.graph import InfluenceGraph, Vertex, influence_graph
from sim.analysis.couplings.rows import trunk_of
from sim.world.geometry import HORIZONTAL, OPPOSITE, Cell, cell_text, step
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Node, Part, Relay
from sim.world.rulebook import Rules, default_rules
from sim.world.signals.bounds import bounds
from sim.world.signals.field import Field
from sim.world.signals.wiring import Wiring, wiring_of
from sim.world.world import Finding


def builders_findings(layout: Layout, rules: Rules | None = None) -> list[Finding]:
    """What the design checks find, and then what tells why a build does not work, though it does no harm where it does:
    wiring that does nothing. ``rules``: the rulebook that the layout overrides (default: the default rulebook)."""
    in_force = layout.rules_in_force(rules or default_rules())
    return [*design_findings(layout, rules), *idle_wiring(layout, in_force)]


def idle_wiring(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """All of it, by the graph of influence (``sim.analysis.couplings``), which has every influence there is;
    ``rules``: those in force. Time: that of the graph."""
    if not layout.streams:
        return
    graph = influence_graph(layout, rules)
    _, most = bounds(graph.wiring, rules.reach)
    yield from _no_source(layout, graph.wiring, rules)
    yield from _never_on(graph.wiring, most)
    yield from _drives_nothing(graph)
    yield from _passed_by(layout, graph.wiring, most)


def _never_on(wiring: Wiring, most: Field) -> Iterator[Finding]:
    """A relay that nothing switches on."""
    for number, part in enumerate(wiring.parts):
        if isinstance(part, Relay) and not most.out[number]:
            text = (
                f"the relay at {cell_text(part.at)} can never be on: no signal comes to the cell behind it at "
                f"{cell_text(step(part.at, OPPOSITE[part.output]))}; bring one there, or turn the relay round"
            )
            yield Finding("never on", text, at=part.at)


def _drives_nothing(graph: InfluenceGraph) -> Iterator[Finding]:
    """A gauge, relay or inverter whose state can change, and no lock with it; the last ones of a chain of such parts,
    since it is behind those that the way to a lock breaks off.

    Gauges that read nothing have a check of their own; and a part that is there to bend a line does something.
    """
    lockable = _lockable(graph)
    idle = [one for one in graph.varying if one.kind == "part" and one not in lockable]
    for me in idle:
        part = graph.wiring.parts[me.number]
        beyond = nx.descendants(graph.varying, me)
        if not any(other in beyond for other in idle) and not _shapes_lines(graph.layout, part):
            text = f"the {part.kind} at {cell_text(part.at)} {_goes_nowhere(graph.layout, part)}"
            yield Finding("drives nothing", text, at=part.at)


def _no_source(layout: Layout, wiring: Wiring, rules: Rules) -> Iterator[Finding]:
    """A run of lines that nothing feeds, however full the containers are; and the cell that is missing, where one line
    would join it to one that is fed."""
    level = full_levels(wiring, rules)
    fed = {cell for line, cell in enumerate(wiring.lines) if level[line]}
    for run in runs(wiring):
        if not any(level[line] for line in run):
            first, mine = wiring.lines[run[0]], {wiring.lines[line] for line in run}
            more = f" and {len(run) - 1} more of its run have" if len(run) > 1 else " has"
            near = (step(cell, direction) for cell in sorted(mine) for direction in HORIZONTAL)
            gaps = [at for at in near if at not in layout.by_cell and _beside(at) & fed]
            cure = f"a line at {cell_text(gaps[0])} would join it to one that is fed" if gaps else "bring one to it"
            text = f"the line at {cell_text(first)}{more} no source: no gauge, relay or inverter feeds it; {cure}"
            yield Finding("no source", text, at=first)


def _beside(cell: Cell) -> set[Cell]:
    return {step(cell, direction) for direction in HORIZONTAL}


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
        return "changes no lock: see where the way from it to a node breaks off, or is not there"
    front = step(part.at, part.output)
    there = layout.by_cell.get(front)
    if there is None:
        return f"points into the empty cell at {cell_text(front)}; put a line there, or turn it round"
    return (
        f"points into the {there.kind} at {cell_text(front)}, and changes no lock: see where the way on from there to "
        "a node breaks off, or turn it round"
    )
