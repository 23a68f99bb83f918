"""A layout's signals with all that the account of them looks at, and the parts behind the lock of each node."""

from __future__ import annotations

from dataclasses import dataclass

import networkx as nx

from sim.analysis.couplings.graph import InfluenceGraph, Vertex, influence_graph
from sim.world.layout import Layout
from sim.world.parts import Relay
from sim.world.rulebook import Rules
from sim.world.signals.bounds import bounds
from sim.world.signals.field import Field
from sim.world.signals.wants import is_latched
from sim.world.signals.wiring import Wiring


@dataclass(frozen=True, slots=True)
class Circuit:
    """``rules``: those in force. ``least``, ``most``: what signals can come to once settled. ``knots``: vertices of the
    graph on a loop, or of a relay that may be latched: what they do depends on what was before."""

    layout: Layout
    rules: Rules
    wiring: Wiring
    graph: InfluenceGraph
    least: Field
    most: Field
    knots: frozenset[Vertex]

    def varies(self, node: int) -> bool:
        """The node may be locked or not, as far as bounds tell."""
        return self.least.locked[node] != self.most.locked[node]


@dataclass(frozen=True, slots=True)
class Cone:
    """What can have a part in the lock of a node. ``order``: the vertices, causes first (empty: ``is_knotted``).

    ``parts``: numbers of the signal parts, in that order.
    """

    order: tuple[Vertex, ...]
    parts: tuple[int, ...]
    is_knotted: bool


def circuit_of(layout: Layout, rules: Rules) -> Circuit:
    """The circuit of a layout; ``rules``: those in force. Time: as ``influence_graph``."""
    graph = influence_graph(layout, rules)
    least, most = bounds(graph.wiring, rules.reach)
    loops = (knot for knot in nx.strongly_connected_components(graph.varying) if len(knot) > 1)
    knots = {vertex for loop in loops for vertex in loop}
    latched = (i for i, part in enumerate(graph.wiring.parts) if isinstance(part, Relay) and is_latched(most, i))
    knots.update(Vertex("part", i) for i in latched)
    return Circuit(layout, rules, graph.wiring, graph, least, most, frozenset(knots))


def cone_of(circuit: Circuit, node: int) -> Cone:
    """The cone of a node that may be locked. Linear in the graph that leads to it."""
    varying, target = circuit.graph.varying, Vertex("node", node)
    before: set[Vertex] = nx.ancestors(varying, target) if target in varying else set()
    if before & circuit.knots:
        return Cone((), (), True)
    order: tuple[Vertex, ...] = tuple(nx.lexicographical_topological_sort(varying.subgraph(before)))
    return Cone(order, tuple(vertex.number for vertex in order if vertex.kind == "part"), False)
