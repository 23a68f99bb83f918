"""Which signal could act on which: a graph with more edges than the laws have, to tell wirings without loops.

Vertices: each signal part, each run of lines as a whole (two lines belong together when they stand within one step of
each other sideways and at most one up or down), and two for each solid cell, since its *strong* level feeds lines and
being *energised* does not. Every edge the laws of RULEBOOK.md section 4 could give is there, whatever cuts it.
"""

from __future__ import annotations

from collections.abc import Hashable

import networkx as nx

from outside.static_verilog import COMPASS, DOWN, SIX, TOWARDS, UP, Cell, minus, plus
from sim.world.parts import Furnace, Gauge, Inverter, Line, Part, Relay, Support

SIGNALS = (Inverter, Relay, Gauge)


def influence(parts: dict[Cell, Part]) -> nx.DiGraph:
    """The conservative influence graph; parts are vertices ``("part", cell)``."""
    graph = nx.DiGraph()
    runs = _runs(parts)

    def solid(cell: Cell) -> bool:
        return cell[2] < 0 or isinstance(parts.get(cell), (Support, Furnace))

    def acts(source: Hashable, cell: Cell) -> None:
        """Edges from a source to whatever reads what is delivered into ``cell``."""
        if solid(cell):
            graph.add_edge(source, ("strong", cell))
        elif cell in runs:
            graph.add_edge(source, runs[cell])
        elif isinstance(parts.get(cell), (Relay, Gauge)):
            graph.add_edge(source, ("part", cell))

    for cell, part in parts.items():
        match part:
            case Inverter():
                graph.add_edge(("energised", plus(cell, TOWARDS[part.mount])), ("part", cell))
                for near in (plus(cell, way) for way in SIX):
                    if near == plus(cell, UP) or not solid(near):  # of the solid cells only the one above is powered
                        acts(("part", cell), near)
            case Relay() | Gauge():
                graph.add_edge(("energised", minus(cell, TOWARDS[part.output])), ("part", cell))
                acts(("part", cell), plus(cell, TOWARDS[part.output]))
            case Line():
                for way in (*COMPASS, DOWN):
                    near = plus(cell, way)
                    beside = parts.get(near)
                    if solid(near):
                        graph.add_edge(runs[cell], ("energised", near))
                    elif isinstance(beside, (Relay, Gauge)) and plus(near, TOWARDS[beside.output]) != cell:
                        graph.add_edge(runs[cell], ("part", near))  # unless the part delivers into this very line
    for _, q in [vertex for vertex in graph if vertex[0] == "strong"]:
        graph.add_edge(("strong", q), ("energised", q))
        for way in SIX:
            if plus(q, way) in runs:
                graph.add_edge(("strong", q), runs[plus(q, way)])
    return graph


def has_loops(parts: dict[Cell, Part]) -> bool:
    """Some signal could come round to where it started."""
    return not nx.is_directed_acyclic_graph(influence(parts))


def _runs(parts: dict[Cell, Part]) -> dict[Cell, tuple[str, Cell]]:
    lines = nx.Graph()
    lines.add_nodes_from(cell for cell, part in parts.items() if isinstance(part, Line))
    for cell in list(lines):
        for way in COMPASS:
            level = plus(cell, way)
            lines.add_edges_from((cell, c) for c in (level, plus(level, UP), plus(level, DOWN)) if c in lines)
    return {cell: ("run", min(run)) for run in nx.connected_components(lines) for cell in run}
