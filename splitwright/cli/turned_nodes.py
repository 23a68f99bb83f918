"""Which node is turned the wrong way, where an output cannot be reached."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from sim.analysis.checks.flow import reached_by
from sim.world.files.places import printable
from sim.world.geometry import ALL_DIRECTIONS, Cell, cell_text
from sim.world.layout import Layout, Stream
from sim.world.parts import Node


def turned_nodes(layout: Layout) -> Iterator[str]:
    """A sentence for each node that, with another outlet, lets a stream get to one more output and still to those that
    it gets to now. Time: that of the reachability search for each node and direction."""
    for stream in layout.streams:
        cells = _reached(layout, stream)
        if all(output in cells for output in stream.outputs):
            continue
        for node in (part for part in layout.parts if isinstance(part, Node) and part.at in cells):
            for outlet in ALL_DIRECTIONS:
                gained = _gained(layout, stream, node, replace(node, outlet=outlet), cells)
                if gained is not None:
                    yield (
                        f"Turned the wrong way: the node at {cell_text(node.at)}, outlet {node.outlet}; with outlet "
                        f"{outlet} {printable(stream.item)} gets to the output at {cell_text(gained)}."
                    )


def _gained(layout: Layout, stream: Stream, node: Node, turned: Node, cells: set[Cell]) -> Cell | None:
    """The output that is reached in addition with the node turned; None: none, or another one is lost."""
    if turned.outlet in (node.outlet, "U"):
        return None
    now = _reached(replace(layout, parts=tuple(turned if part is node else part for part in layout.parts)), stream)
    before = {output for output in stream.outputs if output in cells}
    after = {output for output in stream.outputs if output in now}
    return min(after - before) if before < after else None


def _reached(layout: Layout, stream: Stream) -> set[Cell]:
    return {cell for cell, _ in reached_by(layout, stream)}
