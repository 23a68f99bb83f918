"""Parts that cannot stand or work where they are: no support, gauges that read nothing, bins that merge."""

from __future__ import annotations

from collections.abc import Iterator

from sim.world.files.places import one_of, with_article
from sim.world.geometry import Cell, cell_text, is_ground, step
from sim.world.layout import Layout
from sim.world.parts import MOUNTS, Bin, Gauge, Inverter, Line, Relay
from sim.world.rulebook import Rules
from sim.world.signals.structure import behind, is_solid, mount_cell, read_container
from sim.world.world import Finding


def no_support(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """``line``, ``relay`` and ``gauge`` need a solid cell directly below, an inverter one on its mount side."""
    for part in layout.parts:
        if isinstance(part, (Line, Relay, Gauge)):
            place, word = step(part.at, "D"), "stands on"
        elif isinstance(part, Inverter):
            place, word = mount_cell(part), "hangs on"
        else:
            continue
        if not is_solid(layout.by_cell, place):
            text = f"the {part.kind} at {cell_text(part.at)} {word} {_standing(layout, place)}; {_remedy(layout, part)}"
            yield Finding("no support", text, at=part.at)


def reads_nothing(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """A gauge with no container to read outputs 0."""
    for part in layout.parts:
        if isinstance(part, Gauge) and read_container(layout.by_cell, part) is None:
            text = (
                f"the gauge at {cell_text(part.at)} reads nothing; put a bin, node or furnace at "
                f"{cell_text(behind(part))} (or right behind a support there), or turn the gauge"
            )
            yield Finding("reads nothing", text, at=part.at)


def merging_bins(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """Two bins side by side merge into one unless their finish differs."""
    for part in layout.parts:
        if not isinstance(part, Bin):
            continue
        for other in (layout.by_cell.get(step(part.at, "E")), layout.by_cell.get(step(part.at, "N"))):
            if isinstance(other, Bin) and other.finish == part.finish:
                text = (
                    f"the bins at {cell_text(part.at)} and {cell_text(other.at)} merge into one; "
                    "give one of them the other finish, or keep a cell between them"
                )
                yield Finding("merging bins", text, at=part.at)


def _standing(layout: Layout, cell: Cell) -> str:
    part = layout.by_cell.get(cell)
    if part is None:
        return f"nothing at {cell_text(cell)}"
    return f"{with_article(part.kind)} at {cell_text(cell)}, which is not solid"


def _remedy(layout: Layout, part: Line | Relay | Gauge | Inverter) -> str:
    if isinstance(part, Inverter):
        return _remedy_of_inverter(layout, part)
    return "put a support there" if step(part.at, "D") not in layout.by_cell else "put a support there, or move it"


def _remedy_of_inverter(layout: Layout, part: Inverter) -> str:
    """Never a cell outside the layout. The ground is no advice: it is solid, but no signal gets to it."""
    sides = {side: step(part.at, side) for side in MOUNTS if side != part.mount}
    solid: list[str] = [side for side, cell in sides.items() if not is_ground(cell) and is_solid(layout.by_cell, cell)]
    turn = f"turn its mount to {one_of(solid)}" if solid else "turn its mount to a solid cell"
    if _is_within(layout, mount_cell(part)):
        return f"put a support there, or {turn}"
    free = [side for side, cell in sides.items() if cell not in layout.by_cell and _is_within(layout, cell)]
    if not solid and free:
        turn = f"put a support at {cell_text(sides[free[0]])}, and turn its mount to {free[0]}"
    return f"that is outside the layout, so {turn}"


def _is_within(layout: Layout, cell: Cell) -> bool:
    return all(0 <= place < size for place, size in zip(cell, layout.size, strict=True))
