"""Who can act on whom: the structure of a layout's signals as index tables, worked out once.

Signal parts (inverters, relays, gauges), lines, solids and nodes are numbered; signal parts, lines and nodes in file
order. Each table below is one clause of a law in rulebook section 4; ``field`` and ``wants`` only look up.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from sim.world.geometry import SIDES, Cell, neighbours, step
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Line, Node, Part, Relay, SignalPart
from sim.world.signals.structure import (
    behind,
    faces_a_side,
    front,
    is_solid,
    links,
    mount_cell,
    points_into,
    read_container,
)

Table = tuple[tuple[int, ...], ...]
"""For each index of one family, the indices of another."""


@dataclass(frozen=True, slots=True)
class Wiring:
    """Index tables of a layout's signals. ``a_of_b[i]``: the a's that act on, or are acted on by, b number i."""

    parts: tuple[SignalPart, ...]
    lines: tuple[Cell, ...]
    nodes: tuple[Cell, ...]
    solids: tuple[Cell, ...]
    # strong(q): parts with q in front, inverters directly below q
    strong_sources: Table
    strong_into: Table
    # weak(q): the line on top of q, the lines that point into q
    weak_sources: Table
    weak_into: Table
    # level(p): parts that feed the line, solids whose strong level feeds it, lines it links to, lines that link to it
    line_sources: Table
    feeds_lines: Table
    solids_of_line: Table
    lines_of_solid: Table
    linked: Table
    linked_from: Table
    # locked(n): energised neighbours, parts that deliver into it, lines that point into it
    solids_of_node: Table
    nodes_of_solid: Table
    parts_of_node: Table
    nodes_of_part: Table
    lines_of_node: Table
    nodes_of_line: Table
    # wants: what a part reads. mount or behind cell: a solid, a line or a part; a gauge's and a latch's sides
    input_solid: tuple[int, ...]
    input_lines: Table
    input_parts: Table
    side_lines: Table
    side_parts: Table
    readers_of_solid: Table
    readers_of_line: Table
    readers_of_part: Table
    # gauges: the container's cell that each one reads (None for the other parts)
    reads: tuple[Cell | None, ...]
    gauges_of_container: dict[Cell, tuple[int, ...]]


def wiring_of(layout: Layout) -> Wiring:
    """The tables of ``layout``. Linear in the number of parts."""
    return _Builder(layout).wiring()


class _Builder:
    """Collects pairs (acting, acted on) law by law and turns them into tables."""

    def __init__(self, layout: Layout) -> None:
        self.build = layout.by_cell
        self.parts = tuple(p for p in layout.parts if isinstance(p, (Inverter, Relay, Gauge)))
        self.lines = tuple(p.at for p in layout.parts if isinstance(p, Line))
        self.nodes = tuple(p.at for p in layout.parts if isinstance(p, Node))
        near = {c: None for p in layout.parts for c in (p.at, *neighbours(p.at)) if is_solid(self.build, c)}
        self.solids = tuple(near)
        self.part_no = {part.at: i for i, part in enumerate(self.parts)}
        self.line_no = {cell: i for i, cell in enumerate(self.lines)}
        self.node_no = {cell: i for i, cell in enumerate(self.nodes)}
        self.solid_no = {cell: i for i, cell in enumerate(self.solids)}

    def wiring(self) -> Wiring:
        strong = self._strong_pairs()
        weak = self._weak_pairs()
        feeds = self._feed_pairs()
        near_line = [(s, i) for i, c in enumerate(self.lines) for s in self._known(self.solid_no, neighbours(c))]
        linked = [(i, self.line_no[c]) for i, line in enumerate(self.lines) for c in links(self.build, line)]
        near_node = [(s, i) for i, c in enumerate(self.nodes) for s in self._known(self.solid_no, neighbours(c))]
        delivers = self._delivery_pairs()
        pointing = self._pointing_pairs()
        input_solid = tuple(self.solid_no.get(self._input_cell(p), -1) for p in self.parts)
        input_lines = [(self.line_no.get(self._input_cell(p), -1), i) for i, p in enumerate(self.parts)]
        input_lines = [(line, i) for line, i in input_lines if line >= 0 and isinstance(self.parts[i], Relay)]
        input_parts = self._input_part_pairs()
        side_lines = self._side_line_pairs()
        side_parts = self._side_part_pairs()
        read = [(i, s) for i, s in enumerate(input_solid) if s >= 0 and not isinstance(self.parts[i], Gauge)]
        reads = tuple(read_container(self.build, p) if isinstance(p, Gauge) else None for p in self.parts)
        gauges: dict[Cell, list[int]] = defaultdict(list)
        for i, cell in enumerate(reads):
            if cell is not None:
                gauges[cell].append(i)
        n_parts, n_lines, n_nodes, n_solids = len(self.parts), len(self.lines), len(self.nodes), len(self.solids)
        return Wiring(
            self.parts,
            self.lines,
            self.nodes,
            self.solids,
            strong_sources=_by_second(strong, n_solids),
            strong_into=_by_first(strong, n_parts),
            weak_sources=_by_second(weak, n_solids),
            weak_into=_by_first(weak, n_lines),
            line_sources=_by_second(feeds, n_lines),
            feeds_lines=_by_first(feeds, n_parts),
            solids_of_line=_by_second(near_line, n_lines),
            lines_of_solid=_by_first(near_line, n_solids),
            linked=_by_first(linked, n_lines),
            linked_from=_by_second(linked, n_lines),
            solids_of_node=_by_second(near_node, n_nodes),
            nodes_of_solid=_by_first(near_node, n_solids),
            parts_of_node=_by_second(delivers, n_nodes),
            nodes_of_part=_by_first(delivers, n_parts),
            lines_of_node=_by_second(pointing, n_nodes),
            nodes_of_line=_by_first(pointing, n_lines),
            input_solid=input_solid,
            input_lines=_by_second(input_lines, n_parts),
            input_parts=_by_second(input_parts, n_parts),
            side_lines=_by_second(side_lines, n_parts),
            side_parts=_by_second(side_parts, n_parts),
            readers_of_solid=_by_second(read, n_solids),
            readers_of_line=_by_first([*input_lines, *side_lines], n_lines),
            readers_of_part=_by_first([*input_parts, *side_parts], n_parts),
            reads=reads,
            gauges_of_container={cell: tuple(numbers) for cell, numbers in gauges.items()},
        )

    def _strong_pairs(self) -> list[tuple[int, int]]:
        """(part, solid): a relay or gauge with the solid in front; an inverter directly below the solid."""
        target = {i: step(p.at, "U") if isinstance(p, Inverter) else front(p) for i, p in enumerate(self.parts)}
        return [(i, self.solid_no[c]) for i, c in target.items() if c in self.solid_no]

    def _weak_pairs(self) -> list[tuple[int, int]]:
        """(line, solid): the solid below the line, and each horizontal solid that the line points into."""
        pairs = []
        for i, line in enumerate(self.lines):
            below = step(line, "D")
            sides = [step(line, side) for side in points_into(self.build, line)]
            pairs += [(i, s) for s in self._known(self.solid_no, [below, *sides])]
        return pairs

    def _feed_pairs(self) -> list[tuple[int, int]]:
        """(part, line): a relay or gauge with the line in front; an inverter beside it in any of the six directions,
        unless the line lies on its mount side."""
        return [(i, n) for i, p in enumerate(self.parts) for n in self._known(self.line_no, _delivered_cells(p))]

    def _delivery_pairs(self) -> list[tuple[int, int]]:
        """(part, node): the front cell; for an inverter any neighbour but its mount side."""
        return [(i, n) for i, p in enumerate(self.parts) for n in self._known(self.node_no, _delivered_cells(p))]

    def _pointing_pairs(self) -> list[tuple[int, int]]:
        """(line, node): the line points into the node."""
        return [
            (i, n)
            for i, line in enumerate(self.lines)
            for n in self._known(self.node_no, [step(line, side) for side in points_into(self.build, line)])
        ]

    def _input_cell(self, part: Part) -> Cell:
        """Where an inverter or relay reads: the mount cell, the cell behind."""
        if isinstance(part, Inverter):
            return mount_cell(part)
        assert isinstance(part, (Relay, Gauge))
        return behind(part)

    def _input_part_pairs(self) -> list[tuple[int, int]]:
        """(part, relay): an inverter behind the relay, or a relay or gauge behind it that faces the same way."""
        pairs = []
        for i, relay in enumerate(self.parts):
            if isinstance(relay, Relay):
                source = self.build.get(behind(relay))
                if isinstance(source, Inverter) or (
                    isinstance(source, (Relay, Gauge)) and source.output == relay.output
                ):
                    pairs.append((self.part_no[source.at], i))
        return pairs

    def _side_line_pairs(self) -> list[tuple[int, int]]:
        """(line, gauge): the line lies on one of the gauge's sides."""
        return [
            (n, i)
            for i, gauge in enumerate(self.parts)
            if isinstance(gauge, Gauge)
            for n in self._known(self.line_no, [step(gauge.at, side) for side in SIDES[gauge.output]])
        ]

    def _side_part_pairs(self) -> list[tuple[int, int]]:
        """(part, relay or gauge): a relay or gauge that faces one of its sides (side input of a gauge, latch)."""
        pairs = []
        for i, part in enumerate(self.parts):
            if isinstance(part, (Relay, Gauge)):
                for side in SIDES[part.output]:
                    other = self.build.get(step(part.at, side))
                    if isinstance(other, (Relay, Gauge)) and faces_a_side(other, part):
                        pairs.append((self.part_no[other.at], i))
        return pairs

    @staticmethod
    def _known(numbers: dict[Cell, int], cells: Iterable[Cell]) -> list[int]:
        return [numbers[cell] for cell in cells if cell in numbers]


def _delivered_cells(part: SignalPart) -> list[Cell]:
    """The cells that a part delivers into other than by energising a solid."""
    if isinstance(part, Inverter):
        mount = mount_cell(part)
        return [cell for cell in neighbours(part.at) if cell != mount]
    return [front(part)]


def _by_first(pairs: Iterable[tuple[int, int]], count: int) -> Table:
    table: list[list[int]] = [[] for _ in range(count)]
    for first, second in pairs:
        table[first].append(second)
    return tuple(map(tuple, table))


def _by_second(pairs: Iterable[tuple[int, int]], count: int) -> Table:
    return _by_first(((second, first) for first, second in pairs), count)
