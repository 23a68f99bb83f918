"""A layout with everything that the search for couplings looks at, worked out once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sim.analysis.couplings.graph import InfluenceGraph, Vertex, influence_graph
from sim.analysis.couplings.influence import Influence, influence_in
from sim.analysis.couplings.rows import Rows, rows_of
from sim.analysis.couplings.sources import Origin, gauges_by_row
from sim.world.layout import Layout
from sim.world.rulebook import Rules, default_rules


@dataclass(frozen=True, slots=True)
class Study:
    """``gauges``: by the rows that they read."""

    layout: Layout
    rows: Rows
    graph: InfluenceGraph
    influence: Influence
    gauges: Mapping[Origin, tuple[Vertex, ...]]

    def owners(self, node: int) -> tuple[str, ...]:
        """The rows that a node belongs to."""
        return self.rows.of.get(self.graph.wiring.nodes[node], ())

    def shares_a_lock(self, node: Vertex, row: str) -> bool:
        """All that can lock the node locks B nodes, or others, of that row as well, and else at most product nodes: the
        node waits just while those do."""
        lockers = list(self.graph.varying.predecessors(node))
        return bool(lockers) and all(self._is_lock_of(locker, row) for locker in lockers)

    def _is_lock_of(self, locker: Vertex, row: str) -> bool:
        locked = {self.owners(one.number) for one in self.graph.varying.successors(locker) if one.kind == "node"}
        return (row,) in locked and locked <= {(row,), (self.rows.product,)}

    def nodes(self) -> Iterator[tuple[Vertex, tuple[str, ...]]]:
        """Each node that is on some row's way, with its rows, in file order."""
        for number in range(len(self.graph.wiring.nodes)):
            if owners := self.owners(number):
                yield Vertex("node", number), owners


def study_of(layout: Layout, rules: Rules | None = None) -> Study:
    """The study of a layout; ``rules``: the rulebook that the layout overrides (default: the default rulebook).

    Time: linear in the parts times the rows times what one feed of a run reaches, but for ``bounds``.
    """
    graph = influence_graph(layout, layout.rules_in_force(rules or default_rules()))
    rows = rows_of(layout)
    gauges = gauges_by_row(graph, rows)
    return Study(layout, rows, graph, influence_in(graph, gauges), gauges)
