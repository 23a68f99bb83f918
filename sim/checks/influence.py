"""Which streams drive which signals: a graph of influence over runs of lines, solid cells and parts.

Each gauge that reads a container of one stream alone marks what it drives, directly or through others, with that
stream. Containers that items of several streams can get to are shared on purpose: their gauges mark nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import networkx as nx

from sim.checks.flow import containers_by_stream
from sim.checks.reach import runs
from sim.layout import Layout
from sim.signals.wiring import Wiring

Thing = tuple[Literal["run", "solid", "strong", "part"], int]
"""A run of lines, a solid cell (energised at all, or strongly), or a signal part, by number."""
Marks = Mapping[str, int]
"""The streams that drive a thing, each with the number of one gauge that does."""


@dataclass(frozen=True, slots=True)
class Influence:
    """``marks``: what drives each thing. ``meetings``: things where signals of different streams first meet."""

    wiring: Wiring
    runs: tuple[tuple[int, ...], ...]
    marks: Mapping[Thing, Marks]
    meetings: tuple[Thing, ...]


def influence_in(layout: Layout, wiring: Wiring) -> Influence:
    """The marks of every thing. Things that drive each other count as one (strongly connected components).

    Time: linear in the number of parts times the number of streams.
    """
    members = runs(wiring)
    knots = nx.condensation(_graph(wiring, members))
    own = _own_marks(layout, wiring)
    by_knot: dict[int, dict[str, int]] = {}
    marks: dict[Thing, Marks] = {}
    meetings = []
    for knot in nx.topological_sort(knots):
        things: list[Thing] = sorted(knots.nodes[knot]["members"])
        before = [by_knot[other] for other in knots.predecessors(knot)]
        here: dict[str, int] = {}
        for streams in (*before, *(own[thing] for thing in things if thing in own)):
            here |= streams
        by_knot[knot] = here
        marks |= dict.fromkeys(things, here)
        if len(here) > 1 and not any(len(other) == len(here) for other in before):
            meetings.append(min(things, key=_telling))
    return Influence(wiring, members, marks, tuple(meetings))


def _graph(wiring: Wiring, members: tuple[tuple[int, ...], ...]) -> nx.DiGraph[Thing]:
    """An edge from each thing to what it drives."""
    graph: nx.DiGraph[Thing] = nx.DiGraph()
    graph.add_nodes_from(("part", i) for i in range(len(wiring.parts)))
    graph.add_edges_from(_edges(wiring, members))
    return graph


def _edges(wiring: Wiring, members: tuple[tuple[int, ...], ...]) -> Iterator[tuple[Thing, Thing]]:
    run_of = {line: number for number, run in enumerate(members) for line in run}
    for i in range(len(wiring.parts)):
        yield from ((("part", i), ("strong", s)) for s in wiring.strong_into[i])
        yield from ((("part", i), ("run", run_of[line])) for line in wiring.feeds_lines[i])
        yield from ((("part", i), ("part", other)) for other in wiring.readers_of_part[i])
    for s in range(len(wiring.solids)):
        yield ("strong", s), ("solid", s)
        yield from ((("strong", s), ("run", run_of[line])) for line in wiring.lines_of_solid[s])
        yield from ((("solid", s), ("part", other)) for other in wiring.readers_of_solid[s])
    for line in range(len(wiring.lines)):
        yield from ((("run", run_of[line]), ("solid", s)) for s in wiring.weak_into[line])
        yield from ((("run", run_of[line]), ("part", other)) for other in wiring.readers_of_line[line])


def _own_marks(layout: Layout, wiring: Wiring) -> dict[Thing, Marks]:
    streams = containers_by_stream(layout)
    marks: dict[Thing, Marks] = {}
    for i, cell in enumerate(wiring.reads):
        if cell is not None and len(names := streams.get(cell, set())) == 1:
            marks["part", i] = dict.fromkeys(names, i)
    return marks


def _telling(thing: Thing) -> tuple[int, int]:
    """Of things that drive each other a run tells most, then a solid cell, then a part."""
    return ("run", "solid", "strong", "part").index(thing[0]), thing[1]
