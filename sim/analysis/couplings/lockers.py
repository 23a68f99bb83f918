"""Who can lock which node: for every node, every source that has a way to it, couplings or not."""

from __future__ import annotations

from dataclasses import dataclass

from sim.analysis.couplings.graph import Vertex
from sim.analysis.couplings.sources import always_lit, self_driven
from sim.analysis.couplings.study import Study
from sim.analysis.couplings.telling import Step, sentence, steps_of
from sim.analysis.couplings.ways import tree_of, way_to
from sim.world.geometry import Cell


@dataclass(frozen=True, slots=True)
class Locker:
    """``source`` can lock ``node`` along ``path``. ``owners``: the node's rows; ``origin``: the rows that the gauge
    reads (none: a container on no row's way, or no gauge at all). ``is_coupling``: signals and node are of different
    rows, or it is a product node that shares no lock of its row. ``is_always``: whatever the containers hold."""

    node: Cell
    owners: tuple[str, ...]
    source: Cell
    origin: tuple[str, ...]
    path: tuple[Step, ...]
    text: str
    is_coupling: bool
    is_always: bool


def lockers(study: Study) -> list[Locker]:
    """Every pair of a node and a source that can lock it, nodes and sources in file order, along a shortest way.

    Sources are gauges that read something, and inverters that are lit by no gauge's doing. Time: one search of the
    graph for each source, linear in what it reaches.
    """
    origins = [(source, origin) for origin, sources in study.gauges.items() for source in sources]
    origins += [(source, ()) for source in self_driven(study.graph)]
    found = [one for source, origin in sorted(origins) for one in _locked_by(study, source, origin, steady=False)]
    for source in always_lit(study.graph):
        found += _locked_by(study, source, (), steady=True)
    place = {cell: number for number, cell in enumerate(study.graph.wiring.nodes)}
    return sorted(found, key=lambda locker: place[locker.node])


def _locked_by(study: Study, source: Vertex, origin: tuple[str, ...], *, steady: bool) -> list[Locker]:
    graph, rows = study.graph, study.rows
    tree = tree_of(graph.steady if steady else graph.varying, [source])
    found = []
    for vertex in tree:
        if vertex.kind == "node":
            path = steps_of(graph, rows, way_to(tree, vertex), steady=steady)
            owners = study.owners(vertex.number)
            crosses = len(origin) == 1 and bool(owners) and origin[0] not in owners
            is_coupling = crosses or owners == (rows.product,)
            if is_coupling and owners == (rows.product,) and len(origin) == 1:
                is_coupling = not study.shares_a_lock(vertex, origin[0])
            text = sentence(graph, path)
            node = graph.cell(vertex)
            found.append(Locker(node, owners, path[0].cell, origin, path, text, is_coupling, steady))
    return found
