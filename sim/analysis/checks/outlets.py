"""Items that cannot go where they should: outlets that lead nowhere, outputs that no item can reach."""

from __future__ import annotations

from collections.abc import Iterator

from sim.analysis.checks.flow import Place, burns, reached_by, reached_by_all
from sim.world.files.places import with_article
from sim.world.geometry import cell_text, step
from sim.world.layout import Layout
from sim.world.parts import Container, Furnace, Node
from sim.world.rulebook import Rules
from sim.world.world import Finding


def leads_nowhere(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """An outlet into no container, or into a furnace's side with nothing that burns.

    Not for a node that another one directly below pulls from: the last node of a row ends like this on purpose.
    """
    reached = reached_by_all(layout)
    for part in layout.parts:
        if not isinstance(part, Node) or isinstance(layout.by_cell.get(step(part.at, "D")), Node):
            continue
        fault = _fault(layout, part, reached)
        if fault:
            text = f"the node at {cell_text(part.at)} pushes {part.outlet} into {fault}"
            yield Finding("leads nowhere", text, at=part.at)


def unreachable(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """An output that no item of the stream can get to from its source."""
    for stream in layout.streams:
        reached = reached_by(layout, stream)
        for output in stream.outputs:
            if (output, stream.item) not in reached:
                text = (
                    f'stream "{stream.name}": no {stream.item} can get from {cell_text(stream.source)} to the output '
                    f"at {cell_text(output)}; follow the nodes from the source and close the gap"
                )
                yield Finding("unreachable", text, at=output)


def _fault(layout: Layout, node: Node, reached: set[Place]) -> str:
    """What is wrong with where the outlet leads, and what to do; "" for nothing."""
    cell = step(node.at, node.outlet)
    target = layout.by_cell.get(cell)
    if not isinstance(target, Container):
        what = with_article(target.kind) if target else "nothing"
        return f"{cell_text(cell)}, where {what} stands; put a bin, node or furnace there or turn the outlet"
    if isinstance(target, Furnace) and node.outlet != "D":
        kinds = sorted({kind for at, kind in reached if at == node.at})
        if kinds and not any(burns(layout, kind) for kind in kinds):
            return (
                f"the side of the furnace at {cell_text(cell)}, which takes only what burns, and {' and '.join(kinds)} "
                "does not; push it in from above"
            )
    return ""
