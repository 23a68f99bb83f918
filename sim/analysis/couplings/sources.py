"""Where signals come from: the gauges, by the row whose containers they read, and what is on by no gauge's doing."""

from __future__ import annotations

from collections.abc import Mapping

from sim.analysis.couplings.graph import InfluenceGraph, Vertex, gauge_vertices
from sim.analysis.couplings.rows import Rows
from sim.analysis.couplings.ways import tree_of
from sim.world.parts import Inverter

Origin = tuple[str, ...]
"""The rows that a gauge's container belongs to: one, several (shared on purpose), or none."""


def gauges_by_row(graph: InfluenceGraph, rows: Rows) -> Mapping[Origin, tuple[Vertex, ...]]:
    """The gauges by the rows that they read, each in file order. Linear in the gauges."""
    found: dict[Origin, list[Vertex]] = {}
    for vertex, cell in gauge_vertices(graph):
        found.setdefault(rows.of.get(cell, ()), []).append(vertex)
    return {row: tuple(vertices) for row, vertices in found.items()}


def always_lit(graph: InfluenceGraph) -> tuple[Vertex, ...]:
    """Inverters that are lit whatever the containers hold: sources of the ``steady`` graph."""
    return tuple(vertex for vertex in graph.steady if _is_inverter(graph, vertex))


def self_driven(graph: InfluenceGraph) -> tuple[Vertex, ...]:
    """Inverters that may go on and off though no gauge has a way to them (loops): sources of the ``varying`` graph.

    Linear in the graph.
    """
    driven = tree_of(graph.varying, [vertex for vertex, _ in gauge_vertices(graph)])
    return tuple(vertex for vertex in graph.varying if _is_inverter(graph, vertex) and vertex not in driven)


def _is_inverter(graph: InfluenceGraph, vertex: Vertex) -> bool:
    return vertex.kind == "part" and isinstance(graph.wiring.parts[vertex.number], Inverter)
