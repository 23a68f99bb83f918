"""A way through the graph of influence in words that a builder can follow."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise

from sim.analysis.couplings.graph import InfluenceGraph, Law, Vertex
from sim.analysis.couplings.rows import Rows
from sim.world.geometry import Cell, cell_text, is_ground
from sim.world.parts import Gauge


@dataclass(frozen=True, slots=True)
class Step:
    """What the thing in ``cell`` does to the thing of the next step (the last one: what it is)."""

    cell: Cell
    how: str


def thing_text(graph: InfluenceGraph, rows: Rows, cell: Cell) -> str:
    """``the line at 3,0,3``, ``the node at 9,1,2 (B1 of "fuel")``."""
    part = graph.layout.by_cell.get(cell)
    what = "ground" if part is None and is_ground(cell) else "cell" if part is None else part.kind
    label = rows.labels.get(cell)
    return f"the {what} at {cell_text(cell)}" + (f" ({label})" if label else "")


def steps_of(
    graph: InfluenceGraph,
    rows: Rows,
    way: Sequence[Vertex],
    *,
    steady: bool = False,
    stops: Collection[Cell] = (),
) -> tuple[Step, ...]:
    """A way as steps: lines that only hand on to the next are left out, but for those in ``stops``.

    ``steady``: it is a way of the graph of that name.
    """
    edges = (graph.steady if steady else graph.varying).edges
    steps: list[Step] = []
    start = 0
    while start < len(way) - 1:
        law: Law = edges[way[start], way[start + 1]]["law"]
        end = start + 1
        while (
            law == "links to"
            and end < len(way) - 1
            and graph.cell(way[end]) not in stops
            and edges[way[end], way[end + 1]]["law"] == "links to"
        ):
            end += 1
        if law != "energises strongly":  # the same cell: told with what energises it
            if {graph.cell(way[start]), graph.cell(way[end])} <= set(stops):
                how = f"touches {thing_text(graph, rows, graph.cell(way[end]))}"
            else:
                how = _how(graph, rows, law, way[start], way[end])
            steps.append(Step(graph.cell(way[start]), _reading(graph, rows, way[start], first=start == 0) + how))
        start = end
    last = graph.cell(way[-1])
    return (*steps, Step(last, _ending(graph, rows, way)))


def sentence(graph: InfluenceGraph, steps: Sequence[Step]) -> str:
    """The steps in one clause: the first thing by name, then what each does to the next."""
    first = steps[0].cell
    part = graph.layout.by_cell[first]
    text = f"the {part.kind} at {cell_text(first)} {steps[0].how}"
    for before, step in pairwise(steps[:-1]):
        joint = " and " if before.how.startswith("runs to") else ", which "
        text += joint + step.how
    return text


def _reading(graph: InfluenceGraph, rows: Rows, vertex: Vertex, *, first: bool) -> str:
    """What a gauge at the start of a way reads."""
    if vertex.kind != "part" or not first:
        return ""
    part, cell = graph.wiring.parts[vertex.number], graph.wiring.reads[vertex.number]
    if isinstance(part, Gauge) and cell is not None:
        return f"reads {thing_text(graph, rows, cell)} and "
    return ""


def _how(graph: InfluenceGraph, rows: Rows, law: Law, first: Vertex, second: Vertex) -> str:
    target = thing_text(graph, rows, graph.cell(second))
    does = {"strong": " and energises it", "solid": " and energises it", "node": " and locks it"}.get(second.kind, "")
    match law:
        case "in front":
            return f"puts out into {target}{does}"
        case "beside":
            return f"lights {target} beside it" if not does else f"puts out into {target} beside it{does}"
        case "directly below":
            return f"stands directly below {target}{does}"
        case "links to":
            return f"runs to {cell_text(graph.cell(second))}"
        case "on top of":
            return f"lies on top of {target}{does}"
        case "points into":
            return f"points into {target}{does}"
        case "feeds":
            return f"feeds {target} beside it"
        case "mount":
            return f"switches {target}, which hangs on it"
        case "behind":
            return f"drives {target} from behind"
        case "side input":
            return f"is a side input of {target}"
        case "latches":
            return f"latches {target} from its side"
        case "locks":
            return f"locks {target}"
        case "energises strongly":
            raise AssertionError("told with what energises the cell")


def _ending(graph: InfluenceGraph, rows: Rows, way: Sequence[Vertex]) -> str:
    match way[-1].kind:
        case "node":
            label = rows.labels.get(graph.cell(way[-1]))
            return "is locked" + (f" ({label})" if label else "")
        case "solid" | "strong":
            return "is energised"
        case _:
            return "is driven" if len(way) > 1 else _reading(graph, rows, way[0], first=True).removesuffix(" and ")
