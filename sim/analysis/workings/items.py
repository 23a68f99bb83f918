"""The way of the items: from each source along its row to the outputs, and what furnaces make to its bins."""

from __future__ import annotations

from collections.abc import Iterator

from sim.analysis.couplings.rows import Rows, burns, rows_of, trunk_of
from sim.analysis.production.lines import reached_from, ways_of
from sim.world.geometry import Cell, step
from sim.world.layout import Layout, Stream
from sim.world.parts import Bin, Furnace, Node
from sim.world.statement import ItemWord, Mention, Statement, Value, mention, mentions


def item_statements(layout: Layout) -> Iterator[Statement]:
    """Each stream in file order, then what comes out of furnaces. Linear in the parts times the streams, but for
    furnaces times the nodes below them."""
    if not layout.streams:
        yield Statement("workings.streams_none")
    rows = rows_of(layout)
    for stream in layout.streams:
        yield from _of_stream(layout, rows, stream)
    yield from _of_products(layout)


def _of_stream(layout: Layout, rows: Rows, stream: Stream) -> Iterator[Statement]:
    source, head = mention(layout, stream.source), step(stream.source, "D")
    values: dict[str, Value] = {"stream": stream.name, "item": ItemWord(stream.item), "source": source}
    if not isinstance(layout.by_cell.get(head), Node):
        yield Statement("workings.source_idle", values)
        return
    yield Statement("workings.source", {**values, "node": mention(layout, head)})
    trunk = trunk_of(layout, head)
    if len(trunk) > 1:
        key = "workings.row" if len(trunk) > 2 else "workings.row_of_two"
        yield Statement(key, {"first": mention(layout, head), "nodes": mentions(layout, trunk[1:])})
    yield _row_end(layout, stream, trunk)
    yield from _branches(layout, trunk)
    yield from _outputs(layout, rows, stream)


def _row_end(layout: Layout, stream: Stream, trunk: list[Cell]) -> Statement:
    """What the last node of the row pushes into."""
    last = layout.by_cell[trunk[-1]]
    assert isinstance(last, Node)
    target = step(last.at, last.outlet)
    values: dict[str, Value] = {"last": mention(layout, last.at), "target": mention(layout, target)}
    match layout.by_cell.get(target):
        case Node():
            return Statement("workings.row_ring", values)
        case Furnace() if last.outlet != "D" and not burns(layout, stream.item):
            return Statement("workings.row_refused", {**values, "item": ItemWord(stream.item)})
        case Bin() | Furnace():
            return Statement("workings.row_into", values)
        case _:
            return Statement("workings.row_end", {"last": values["last"]})


def _branches(layout: Layout, trunk: list[Cell]) -> Iterator[Statement]:
    """Nodes below nodes of the row, which pull items out of it."""
    pairs = [(cell, step(cell, "D")) for cell in trunk if isinstance(layout.by_cell.get(step(cell, "D")), Node)]
    pairs = [(above, below) for above, below in pairs if below not in trunk]
    if pairs:
        trunks, nodes = (mentions(layout, cells) for cells in zip(*pairs, strict=True))
        yield Statement("workings.branch" if len(pairs) == 1 else "workings.branches", {"nodes": nodes, "from": trunks})


def _outputs(layout: Layout, rows: Rows, stream: Stream) -> Iterator[Statement]:
    """Which nodes hand items to which outputs, and which way furnaces take them."""
    givers = {output: _givers(layout, rows, stream, output) for output in stream.outputs}
    single = {output: cells[0] for output, cells in givers.items() if len(cells) == 1}
    if single:
        key = "workings.output" if len(single) == 1 else "workings.outputs"
        values: dict[str, Value] = {"nodes": mentions(layout, single.values()), "outputs": mentions(layout, single)}
        yield Statement(key, values)
    for output, cells in givers.items():
        if len(cells) > 1:
            several: dict[str, Value] = {"nodes": mentions(layout, cells), "output": mention(layout, output)}
            yield Statement("workings.output_shared", several)
    if unfed := [output for output, cells in givers.items() if not cells]:
        idle: dict[str, Value] = {"item": ItemWord(stream.item), "outputs": mentions(layout, unfed)}
        yield Statement("workings.output_idle", idle)
    for key, entered in _entrances(layout, givers):
        yield Statement(key, {"item": ItemWord(stream.item), "furnaces": entered})


def _givers(layout: Layout, rows: Rows, stream: Stream, output: Cell) -> list[Cell]:
    """The containers of the stream's row from which its items get into an output."""
    part, above = layout.by_cell[output], step(output, "U")
    found = []
    for side in ("U", "E", "W", "N", "S"):
        cell = step(output, side)
        if stream.name not in rows.of.get(cell, ()):
            continue
        giver = layout.by_cell[cell]
        pushes = isinstance(giver, Node) and step(cell, giver.outlet) == output
        refuses = isinstance(part, Furnace) and cell != above and not burns(layout, stream.item)
        if (pushes and not refuses) or (cell == above and isinstance(part, Node) and not isinstance(giver, Furnace)):
            found.append(cell)
    return found


def _entrances(layout: Layout, givers: dict[Cell, list[Cell]]) -> Iterator[tuple[str, tuple[Mention, ...]]]:
    furnaces = {cell: nodes for cell, nodes in givers.items() if isinstance(layout.by_cell[cell], Furnace)}
    above = [cell for cell, nodes in furnaces.items() if step(cell, "U") in nodes]
    beside = [cell for cell, nodes in furnaces.items() if any(node != step(cell, "U") for node in nodes)]
    for key, cells in (("workings.enters_above", above), ("workings.enters_side", beside)):
        if cells:
            yield key, mentions(layout, cells)


def _of_products(layout: Layout) -> Iterator[Statement]:
    """Which nodes take out what furnaces make, and where that ends; furnaces whose products come together are told
    together."""
    ways = ways_of(layout)
    furnaces = [part.at for part in layout.parts if isinstance(part, Furnace)]
    ends: dict[tuple[Cell, ...], list[Cell]] = {}
    for furnace in furnaces:
        if ways[furnace]:
            reached = reached_from(ways, ways[furnace], furnaces)
            last = tuple(cell for cell in reached if not ways[cell] or isinstance(layout.by_cell[cell], Furnace))
            ends.setdefault(last, []).append(furnace)
    for last, those in ends.items():
        below = mentions(layout, (step(cell, "D") for cell in those))
        yield Statement("workings.product", {"furnaces": mentions(layout, those), "nodes": below})
        if last:
            ends_by_kind = sorted(last, key=lambda cell: layout.by_cell[cell].kind)
            yield Statement("workings.product_end", {"ends": mentions(layout, ends_by_kind)})
        else:
            yield Statement("workings.product_ring", {"nodes": below})
    fuelled = {cell for stream in layout.streams if burns(layout, stream.item) for cell in stream.outputs}
    if kept := [furnace for furnace in furnaces if furnace in fuelled and not ways[furnace]]:
        yield Statement("workings.product_kept", {"furnaces": mentions(layout, kept)})
