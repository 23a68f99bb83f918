"""Things that gauges of two rows drive, and the nodes that the one's signals lock from there though the other's."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import networkx as nx

from sim.analysis.couplings.graph import Vertex
from sim.analysis.couplings.influence import Thing
from sim.analysis.couplings.places import meeting_cells
from sim.analysis.couplings.study import Study
from sim.analysis.couplings.ways import Tree, way_to
from sim.world.geometry import Cell


@dataclass(frozen=True, slots=True)
class Meeting:
    """Signals of ``first`` and ``second`` meet in ``thing``, at the cell ``at`` (and the linked line beside it, where
    two runs join). ``way``: one of ``first``'s, to the nearest of ``nodes`` beyond, or to the thing where none is."""

    thing: Thing
    first: str
    second: str
    at: Cell
    beside: Cell | None
    way: tuple[Vertex, ...]
    nodes: tuple[Vertex, ...]


def meetings(study: Study) -> Iterator[Meeting]:
    """Each first meeting, pair of rows by pair of rows. Linear in the graph times the meetings."""
    for thing in study.influence.meetings:
        driving = [row for row in study.rows.names if row in study.influence.rows(thing)]
        for pair in combinations(driving, 2):
            yield _meeting(study, thing, pair)


def _meeting(study: Study, thing: Thing, pair: tuple[str, str]) -> Meeting:
    trees = study.influence.trees
    beyond = {thing, *nx.descendants(study.influence.things, thing)}
    locked: dict[Vertex, str] = {}
    ways = []
    for row, other in (pair, pair[::-1]):
        nodes = [
            vertex
            for vertex in trees[row]
            if vertex.kind == "node"
            and ("node", vertex.number) in beyond
            and row not in (owners := study.owners(vertex.number))
            and other in owners
        ]
        locked |= dict.fromkeys(nodes, row)
        ways += [(_passes(study, thing, way), len(way), row, other, way) for way in _ways(trees[row], nodes)]
    if not ways:
        row, other = pair
        ends = [vertex for vertex in trees[row] if study.influence.thing(vertex) == thing]
        return Meeting(thing, row, other, *meeting_cells(study.influence, thing), way_to(trees[row], ends[0]), ())
    passes, _, row, other, way = min(ways, key=lambda found: (not found[0], found[1]))
    at, beside = meeting_cells(study.influence, thing)
    if passes and set(locked.values()) == {row}:  # one row's signals come into what is the other's: told where
        at, beside = next(study.graph.cell(v) for v in way if study.influence.thing(v) == thing), None
    return Meeting(thing, row, other, at, beside, way, tuple(sorted(locked, key=lambda node: node != way[-1])))


def _ways(tree: Tree, nodes: list[Vertex]) -> list[tuple[Vertex, ...]]:
    return [way_to(tree, node) for node in nodes]


def _passes(study: Study, thing: Thing, way: tuple[Vertex, ...]) -> bool:
    return any(study.influence.thing(vertex) == thing for vertex in way)
