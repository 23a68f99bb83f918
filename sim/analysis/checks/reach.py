"""Lines beyond the reach of every source of their run."""

from __future__ import annotations

from collections.abc import Iterator

import networkx as nx

from sim.world.geometry import cell_text
from sim.world.layout import Layout
from sim.world.parts import Gauge
from sim.world.rulebook import Rules
from sim.world.signals.field import Field
from sim.world.signals.wiring import Wiring, wiring_of
from sim.world.world import Finding


def dead_line(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """A run with a source, and lines in it that have no level even with every source at its full level."""
    wiring = wiring_of(layout)
    level = full_levels(wiring, rules)
    for run in runs(wiring):
        dead = sorted(line for line in run if level[line] == 0)
        if not dead or len(dead) == len(run):
            continue
        first, last_live = _edge(wiring, dead, level)
        more = f" and {len(dead) - 1} more of its run are" if len(dead) > 1 else " is"
        text = (
            f"the line at {cell_text(wiring.lines[first])}{more} dead, beyond the reach of {rules.reach} cells from "
            f"every source; put a relay into the run at {cell_text(wiring.lines[last_live])} or nearer to the source"
        )
        yield Finding("dead line", text, at=wiring.lines[first])


def runs(wiring: Wiring) -> tuple[tuple[int, ...], ...]:
    """The lines grouped by links, each run in file order."""
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(len(wiring.lines)))
    graph.add_edges_from((line, other) for line, linked in enumerate(wiring.linked) for other in linked)
    return tuple(tuple(sorted(run)) for run in nx.connected_components(graph))


def full_levels(wiring: Wiring, rules: Rules) -> list[int]:
    """Line levels with every part at its full level, but gauges that read nothing."""
    field = Field(wiring, rules.reach)
    for i, part in enumerate(wiring.parts):
        if not isinstance(part, Gauge) or wiring.reads[i] is not None:
            field.set_out(i, rules.reach)
    return field.level


def _edge(wiring: Wiring, dead: list[int], level: list[int]) -> tuple[int, int]:
    """The first dead line beside a live one, and that one."""
    for line in dead:
        for other in (*wiring.linked[line], *wiring.linked_from[line]):
            if level[other]:
                return line, other
    raise AssertionError("a run with live and dead lines has a link between two of them")
