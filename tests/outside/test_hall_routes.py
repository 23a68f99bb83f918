"""The ways of a hall against networkx on the same graph: product lanes and lock runs are shortest routes.

Networkx (``shortest_path_length``, breadth-first search) is asked for the fewest steps between two cells in a graph of
cells made here, from where parts of other kinds stand. A joined hall must meet that number: never more, and if it were
ever less, the graph would be the wrong one. Maximum flow through product lines: ``test_production_flow``; here the
lines of joined halls are put to it.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

import networkx as nx
import pytest

from hall_kits import solved, wing
from outside.test_production_flow import RULES, most_flow
from sim.analysis.production.lines import product_lines
from sim.world.geometry import HORIZONTAL, Cell, step
from sim.world.layout import ItemKind, Layout
from sim.world.parts import Bin, Furnace, Node
from synth.ask.spec import Face
from synth.hall.joining import Gaps, Joined, joined
from synth.hall.lanes import LANES, End
from synth.hall.short_row import short_row

ENDS: tuple[End, ...] = ("tail", "head")
SHAPES: dict[str, list[list[int]]] = {
    "one wing": [[5]],
    "two sides": [[6], [6]],
    "uneven sides": [[5], [3]],
    "two wings a side": [[4, 4], [4, 4]],
    "long": [[15], [15]],
}


@cache
def hall(shape: str, end: End) -> tuple[Joined, Layout]:
    """The hall, and its parts as a layout."""
    made = joined([[wing(n, end) for n in side] for side in SHAPES[shape]], Gaps(1))
    items = {"clay": ItemKind(fires_to="brick"), "charcoal": ItemKind(burn=1600)}
    streams = (*made.streams("top", "feed", "clay"), *made.streams("side", "fuel", "charcoal"))
    return made, Layout("hall", made.size, items, tuple(made.parts()), streams)


def cells_graph(cells: Iterable[Cell]) -> nx.Graph[Cell]:
    """Cells, joined where they share a side."""
    graph: nx.Graph[Cell] = nx.Graph()
    there = set(cells)
    graph.add_nodes_from(there)
    graph.add_edges_from(
        (cell, step(cell, side)) for cell in there for side in ("E", "N", "U") if step(cell, side) in there
    )
    return graph


def product_ground(layout: Layout) -> set[Cell]:
    """Cells of the ground where a product node may stand: free of other parts, and with nothing above it that it would
    pull from but a furnace."""
    w, d, _ = layout.size
    found = set()
    for cell in ((x, y, 0) for x in range(w) for y in range(d)):
        part, above = layout.by_cell.get(cell), layout.by_cell.get(step(cell, "U"))
        free = part is None or (isinstance(part, Node) and cell[2] == 0)
        if free and not isinstance(above, (Bin, Node)):
            found.add(cell)
    return found


def handed_on(layout: Layout, start: Cell) -> list[Cell]:
    """The cells that a product passes from the node in ``start``, the bin last; a node does as its outlet says."""
    way = [start]
    while isinstance(part := layout.by_cell[way[-1]], Node):
        way.append(step(part.at, part.outlet))
        assert len(way) <= len(layout.parts), "it goes round in circles"
    assert isinstance(part, Bin)
    return way


@pytest.mark.parametrize("end", ENDS)
@pytest.mark.parametrize("shape", SHAPES)
def test_the_product_of_every_furnace_takes_a_shortest_way_to_its_bin(shape: str, end: End) -> None:
    _, layout = hall(shape, end)
    ground = product_ground(layout)
    for furnace in (part.at for part in layout.parts if isinstance(part, Furnace)):
        way = handed_on(layout, step(furnace, "D"))
        assert set(way[:-1]) <= ground, "the graph has every cell that the hall uses"
        graph = cells_graph({*ground, way[-1]})
        assert len(way) - 1 == nx.shortest_path_length(graph, way[0], way[-1])


@pytest.mark.parametrize("end", ENDS)
@pytest.mark.parametrize("shape", SHAPES)
def test_no_place_for_the_bin_is_nearer_to_the_last_furnace(shape: str, end: End) -> None:
    """The way above is the shortest to where the bin is; here the bin may stand in any cell of its lane. The furnace is
    the last one that the product passes, since it has to come from all of them; the first is as far behind it as
    furnaces lie between."""
    made, layout = hall(shape, end)
    lane_y = made.product_bins[0][1]
    lane = {(x, lane_y, 0) for x in range(made.width)}
    graph = cells_graph(product_ground(layout) | lane)
    for place in made.places:
        first, *_, last = [place.cell(cell) for cell in place.wing.product[: place.wing.n]]
        lengths = nx.single_source_shortest_path_length(graph, last)
        nearest = min(lengths[cell] for cell in lane if cell in lengths)
        assert len(handed_on(layout, last)) - 1 == nearest
        assert len(handed_on(layout, first)) - 1 == nearest + place.wing.n - 1


@pytest.mark.parametrize("end", ENDS)
@pytest.mark.parametrize("shape", SHAPES)
def test_no_other_bin_is_nearer(shape: str, end: End) -> None:
    """With a furnace at the exit of its wing the way is shorter than to any bin of another wing."""
    made, layout = hall(shape, end)
    graph = cells_graph({*product_ground(layout), *made.product_bins})
    for place in made.places:
        last = place.cell(place.wing.product[-1])
        own = handed_on(layout, last)[-1]
        assert own in made.product_bins
        lengths = nx.single_source_shortest_path_length(graph, last)
        assert lengths[own] == min(lengths[cell] for cell in made.product_bins if cell in lengths) == 1


@pytest.mark.parametrize("face", ["top", "side"])
@pytest.mark.parametrize("n", [2, 5, 9, 15])
def test_the_lock_run_is_a_shortest_way_along_its_lane(face: Face, n: int) -> None:
    """From what feeds it in the tail to the farthest lock: as many cells of line as a lane without corners needs.

    The graph: all cells of the lane and layer of the run that hold a line or nothing, no further than the row. Links
    of lines join horizontal neighbours (rulebook section 4), so each step costs one level.
    """
    pieces = solved(face)
    layout = short_row(pieces, LANES[face], n, RULES)
    lines = {part.at for part in layout.parts if part.kind == "line"}
    (feeds,) = [part for part in layout.parts if part.kind == "relay"]
    first = step(feeds.at, "W")
    assert first in lines
    farthest = min(lines)
    _, y, z = first
    taken = {part.at for part in layout.parts if part.kind != "line"}
    free = {(x, y, z) for x in range(layout.size[0])} - taken
    graph = cells_graph(free)
    run = nx.shortest_path(cells_graph(lines), first, farthest)
    assert len(run) == len(lines), "no line that leads nowhere"
    assert len(run) - 1 == nx.shortest_path_length(graph, first, farthest)
    assert set(run) <= free


@pytest.mark.parametrize("face", ["top", "side"])
def test_no_way_to_the_farthest_lock_loses_fewer_levels(face: Face) -> None:
    """In the whole box of the row: wherever a line could stand (free now, or a line), with steps up and down as links
    have them, no run from beside the tail's source to beside the first B is shorter."""
    n = solved(face).reach
    layout = short_row(solved(face), LANES[face], n, RULES)
    lines = {part.at for part in layout.parts if part.kind == "line"}
    (feeds,) = [part for part in layout.parts if part.kind == "relay"]
    w, d, h = layout.size
    taken = {part.at for part in layout.parts if part.kind != "line"}
    free = {(x, y, z) for x in range(w) for y in range(d) for z in range(h)} - taken
    graph: nx.Graph[Cell] = nx.Graph()
    graph.add_nodes_from(free)
    for cell in free:
        for side in HORIZONTAL:
            for other in (step(cell, side), step(step(cell, side), "U"), step(step(cell, side), "D")):
                if other in free:
                    graph.add_edge(cell, other)
    column = min(lines)[0]
    ends = [cell for cell in free if cell[0] == column]
    lengths = nx.single_source_shortest_path_length(graph, step(feeds.at, "W"))
    assert min(lengths[cell] for cell in ends if cell in lengths) == len(lines) - 1


@pytest.mark.parametrize("end", ENDS)
@pytest.mark.parametrize("shape", SHAPES)
def test_the_product_lines_of_a_hall_pass_the_largest_flow(shape: str, end: End) -> None:
    """And that is all that the furnaces make, as long as no line has more than a node can pass."""
    _, layout = hall(shape, end)
    for free in (False, True):
        lines = product_lines(layout, RULES)
        assert sum((line.free_rate if free else line.rate) for line in lines) == most_flow(layout, free=free)
    furnaces = sum(isinstance(part, Furnace) for part in layout.parts)
    assert most_flow(layout, free=False) == furnaces * 360


def test_collected_product_is_held_to_the_flow_of_the_last_nodes() -> None:
    """Six wings of eight a side into one bin in the middle: the largest flow says what the last nodes pass."""
    made = joined([[wing(8)] * 6] * 2, Gaps(1), 1)
    layout = Layout("hall", made.size, {"clay": ItemKind(fires_to="brick")}, tuple(made.parts()))
    assert len(made.product_bins) == 1
    total = sum(line.rate for line in product_lines(layout, RULES))
    assert total == most_flow(layout, free=False)
    assert total <= 96 * 360
    beside = [
        cell for side in HORIZONTAL
        if isinstance(layout.by_cell.get(cell := step(made.product_bins[0], side)), Node)
    ]  # fmt: skip
    assert most_flow(layout, free=True) <= len(beside) * 3600 * RULES.ticks_per_second / RULES.period
