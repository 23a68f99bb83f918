"""Ways of items: where a container's items can go, and the product lines from under the furnaces to the bins."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

import networkx as nx

from sim.world.files.places import counted
from sim.world.geometry import Cell, cell_text, step
from sim.world.layout import Layout
from sim.world.parts import Bin, Container, Furnace, Node
from sim.world.rulebook import Rules
from sim.world.world import Finding

Ways = Mapping[Cell, tuple[Cell, ...]]
"""For each container those that it hands items on to."""


def ways_of(layout: Layout) -> dict[Cell, tuple[Cell, ...]]:
    """A node pulls from the container above and pushes into the container before its outlet."""
    there = {part.at: part for part in layout.containers}
    ways: dict[Cell, list[Cell]] = {cell: [] for cell in there}
    for node in (part for part in layout.containers if isinstance(part, Node)):
        above, target = step(node.at, "U"), step(node.at, node.outlet)
        if above in there:
            ways[above].append(node.at)
        if target in there:
            ways[node.at].append(target)
    return {cell: tuple(dict.fromkeys(after)) for cell, after in ways.items()}


def reached_from(ways: Ways, starts: Iterable[Cell], stops: Iterable[Cell] = ()) -> list[Cell]:
    """All containers that items from ``starts`` can come to, those included; not beyond ``stops``."""
    held, found = set(stops), list(dict.fromkeys(starts))
    for cell in found:
        found += [after for after in ways[cell] if after not in found] if cell not in held else []
    return found


@dataclass(frozen=True, slots=True)
class ProductLine:
    """The nodes that some furnaces hand their product to, and where it goes.

    ``bins``: those at its ends; ``dead_ends``: nodes that push into nothing; ``into``: furnaces that it pushes into;
    ``rate``: the most that it passes, items an hour, when every furnace fires without a break; ``free_rate``: when the
    furnaces are no limit.
    """

    furnaces: tuple[Cell, ...]
    nodes: tuple[Cell, ...]
    bins: tuple[Cell, ...]
    dead_ends: tuple[Cell, ...]
    into: tuple[Cell, ...]
    rate: Fraction
    free_rate: Fraction

    @property
    def ends_text(self) -> str:
        """``ends in the bin at 6,0,0``."""
        told = [f"the bin at {cell_text(cell)}" for cell in self.bins]
        told += [f"nothing at {cell_text(cell)}" for cell in self.dead_ends]
        told += [f"the furnace at {cell_text(cell)}" for cell in self.into]
        return "ends in " + " and ".join(told) if told else "goes round in a circle"


def product_lines(layout: Layout, rules: Rules) -> list[ProductLine]:
    """The product lines, in the order of their first furnaces. Furnaces that share a node or bin share a line."""
    ways = ways_of(layout)
    furnaces = [part.at for part in layout.parts if isinstance(part, Furnace)]
    groups: list[tuple[list[Cell], list[Cell]]] = []
    for furnace in furnaces:
        reached = reached_from(ways, ways[furnace], furnaces)
        if not reached:
            continue
        mine, rest = ([furnace], reached), []
        for group in groups:
            if set(group[1]) & set(mine[1]):
                mine = (group[0] + mine[0], list(dict.fromkeys(group[1] + mine[1])))
            else:
                rest.append(group)
        groups = [*rest, mine]
    rules = layout.rules_in_force(rules)
    return [_line(layout, ways, rules, *group) for group in sorted(groups, key=lambda g: furnaces.index(g[0][0]))]


def _line(layout: Layout, ways: Ways, rules: Rules, furnaces: list[Cell], reached: list[Cell]) -> ProductLine:
    parts = layout.by_cell

    def of(kind: type[Container], cells: Iterable[Cell]) -> tuple[Cell, ...]:
        return tuple(cell for cell in cells if isinstance(parts[cell], kind))

    bins = tuple(cell for cell in of(Bin, reached) if not ways[cell])
    dead = tuple(cell for cell in of(Node, reached) if not ways[cell])
    rates = [_rate(layout, ways, rules, furnaces, reached, bins, free) for free in (False, True)]
    return ProductLine(
        tuple(furnaces), of(Node, reached), bins, dead, of(Furnace, reached), rates[0], rates[1]
    )


def _rate(
    layout: Layout, ways: Ways, rules: Rules, furnaces: list[Cell], reached: list[Cell], bins: tuple[Cell, ...],
    free: bool,
) -> Fraction:
    """Items an hour, the largest flow: in period x firing ticks a node passes ``firing`` items, a furnace makes
    ``period``. A node is a pair of vertices with an edge of that capacity between them."""
    graph: nx.DiGraph[object] = nx.DiGraph()
    graph.add_nodes_from(("fired", "kept"))
    for source in furnaces:
        graph.add_edge("fired", (source, "made"), **({} if free else {"capacity": rules.period}))
        graph.add_edges_from(((source, "made"), (after, "in")) for after in ways[source])
    for cell in reached:
        if isinstance(layout.by_cell[cell], Node):
            graph.add_edge((cell, "in"), (cell, "out"), capacity=rules.firing)
            graph.add_edges_from(((cell, "out"), (after, "in")) for after in ways[cell] if after in reached)
    graph.add_edges_from(((cell, "in"), "kept") for cell in bins)
    per_hour = Fraction(3600 * rules.ticks_per_second, rules.period * rules.firing)
    most = nx.maximum_flow_value(graph, "fired", "kept")  # whole numbers in, whole numbers out
    return int(most) * per_hour


def line_findings(layout: Layout, lines: Iterable[ProductLine]) -> Iterator[Finding]:
    """Product that has no way into a bin, a sentence each, with what would be right."""
    lines = list(lines)
    drained = {cell for line in lines for cell in line.furnaces}

    def found(at: Cell, text: str) -> Finding:
        return Finding("product", text, at)

    for part in layout.parts:
        if isinstance(part, Furnace) and part.at not in drained:
            yield found(part.at, f"the furnace at {cell_text(part.at)} has no node below it: its product stays inside; "
                        f"put a node at {cell_text(step(part.at, 'D'))}")
    for line in lines:
        for cell in line.dead_ends:
            node = layout.by_cell[cell]
            assert isinstance(node, Node)
            into = _standing(layout, step(cell, node.outlet))
            yield found(cell, f"the product line of {counted(len(line.furnaces), 'furnace')} leads nowhere: "
                        f"the node at {cell_text(cell)} pushes into {into}; put a bin there")
        for cell in line.into:
            text = f"the product line pushes into the furnace at {cell_text(cell)}; lead it round to a bin"
            yield found(cell, text)
        if not (line.bins or line.dead_ends or line.into):
            first = line.furnaces[0]
            text = f"the product line of the furnace at {cell_text(first)} goes round in a circle; end it in a bin"
            yield found(first, text)


def _standing(layout: Layout, cell: Cell) -> str:
    part = layout.by_cell.get(cell)
    return f"the empty cell {cell_text(cell)}" if part is None else f"the {part.kind} at {cell_text(cell)}"
