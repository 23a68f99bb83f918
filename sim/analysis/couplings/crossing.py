"""Nodes of one row that signals of another lock on their own: no signal of the node's own row is on the way.

Nodes that one *web* locks are told together: parts, runs and solid cells that the signals run through and that hang
together, the gauges at their start left out. A web is the same whichever shortest way is shown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

import networkx as nx

from sim.analysis.couplings.graph import Vertex
from sim.analysis.couplings.influence import Thing
from sim.analysis.couplings.sources import Origin, always_lit, self_driven
from sim.analysis.couplings.study import Study
from sim.analysis.couplings.ways import Tree, tree_of


@dataclass(frozen=True, slots=True)
class Crossing:
    """Signals of ``origin`` lock ``nodes`` (nearest first), which belong to ``owners``, along ways of ``tree``.

    ``undriven``: by no gauge's doing, ``steady``: and always.
    """

    origin: Origin
    owners: tuple[str, ...]
    nodes: tuple[Vertex, ...]
    tree: Tree
    undriven: bool = False
    steady: bool = False


def crossings(study: Study) -> Iterator[Crossing]:
    """Every crossing, by origin, then by the rows that own the nodes, then by web.

    Linear in the graph times the pairs of rows that do cross; those that do not cost one look at the nodes.
    """
    for origin, sources in study.gauges.items():
        for owners, nodes in _nodes_by_owners(study):
            if _may_cross(study, origin, owners, nodes):
                yield from _crossings(study, origin, owners, nodes, sources)
    yield from _undriven(study)


def _nodes_by_owners(study: Study) -> list[tuple[tuple[str, ...], list[Vertex]]]:
    nodes = sorted(((owners, vertex) for vertex, owners in study.nodes()))
    return [(owners, [vertex for _, vertex in group]) for owners, group in groupby(nodes, key=lambda pair: pair[0])]


def _may_cross(study: Study, origin: Origin, owners: tuple[str, ...], nodes: Iterable[Vertex]) -> bool:
    """Cheap: no search but for product nodes and gauges that are no single row's."""
    is_product = owners == (study.rows.product,)
    if len(origin) != 1:
        return is_product
    return (is_product or origin[0] not in owners) and any(node in study.influence.trees[origin[0]] for node in nodes)


def _crossings(
    study: Study, origin: Origin, owners: tuple[str, ...], nodes: Iterable[Vertex], sources: Iterable[Vertex]
) -> Iterator[Crossing]:
    others = frozenset(owners) - frozenset(origin)
    tree = tree_of(study.graph.varying, sources, _free_of(study, others))
    reached = set(nodes) & tree.keys()
    if owners == (study.rows.product,) and len(origin) == 1:
        reached = {node for node in reached if not study.shares_a_lock(node, origin[0])}
    for web in _webs(study, tree, set(sources), reached):
        yield Crossing(origin, owners, web, tree)


def _free_of(study: Study, rows: frozenset[str]) -> Callable[[Vertex], bool]:
    """Lets nodes pass, and whatever no signal of these rows drives."""
    influence = study.influence
    return lambda vertex: vertex.kind == "node" or not (rows & influence.rows(influence.thing(vertex)))


def _webs(study: Study, tree: Tree, sources: set[Vertex], nodes: set[Vertex]) -> list[tuple[Vertex, ...]]:
    """The nodes by the web that locks them, nearest first."""
    thing, things = study.influence.thing, study.influence.things
    starts = {thing(vertex) for vertex in sources}
    ends = {thing(node) for node in nodes}
    passed = {thing(vertex) for vertex in tree if vertex.kind != "node"} - starts | ends
    webs: nx.Graph[Thing] = nx.Graph(things.subgraph(passed))
    web_of = {member: number for number, web in enumerate(nx.connected_components(webs)) for member in web}
    told: dict[int, list[Vertex]] = {}
    for vertex in tree:
        if vertex in nodes:
            told.setdefault(web_of[thing(vertex)], []).append(vertex)
    return [tuple(web) for web in told.values()]


def _undriven(study: Study) -> Iterator[Crossing]:
    """Product nodes that are locked, always or at times, by what is on by no gauge's doing."""
    product = {vertex for vertex, owners in study.nodes() if owners == (study.rows.product,)}
    if product:
        for graph, sources in (
            (study.graph.steady, always_lit(study.graph)),
            (study.graph.varying, self_driven(study.graph)),
        ):
            tree = tree_of(graph, sources)
            nodes = tuple(vertex for vertex in tree if vertex in product)
            if nodes:
                yield Crossing(
                    (), (study.rows.product,), nodes, tree, undriven=True, steady=graph is study.graph.steady
                )
