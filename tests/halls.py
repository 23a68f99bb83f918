"""Small halls to try a working shift on, as plans written by hand.

*Row hall*: three kilns; feed row above (layers 2 and 3, source above its west end), fuel row behind (north, layers 1
and 2), product nodes below that push east into a bin. No locks: the first kiln of a row fills up first.
*Bin hall*: two kilns, each with a feed bin and a fuel bin of its own, so that every stream is even.
*Locked hall*: any number of kilns and rows, each row with the lock of a burst row.
"""

from __future__ import annotations

from dataclasses import replace

from outside.rows import Numbers, burst_row_layout
from sim.world.files.plan import layout_from_plan
from sim.world.geometry import Cell
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Finish, Node, Part

ITEMS = """item clay stack 64 fires-to brick
item charcoal stack 64 burn 1600
"""

ROW_HALL = f"""splitwright-plan/1
title Three kilns in a row
{ITEMS}stream feed clay from 0,0,4 to 1,0,1 2,0,1 3,0,1
stream fuel charcoal from 0,1,3 to 1,0,1 2,0,1 3,0,1
layer 0
.  .  .  .  .
.  nE nE nE B
layer 1
.  nS nS nS .
.  F  F  F  .
layer 2
nE nE nE nE .
.  nD nD nD .
layer 3
B  .  .  .  .
nE nE nE nE .
layer 4
.  .  .  .  .
B  .  .  .  .
"""

BIN_HALL = f"""splitwright-plan/1
title Two kilns, a bin for each
{ITEMS}stream feed-west clay from 0,0,3 to 0,0,1
stream feed-east clay from 2,0,3 to 2,0,1
stream fuel-west charcoal from 0,1,2 to 0,0,1
stream fuel-east charcoal from 2,1,2 to 2,0,1
layer 0
.  .  .  .
nE nE nE B
layer 1
nS .  nS .
F  .  F  .
layer 2
B  .  B  .
nD .  nD .
layer 3
.  .  .  .
B  .  B  .
"""


def hall(plan: str = BIN_HALL, **rules: int) -> Layout:
    """A plan as a layout, with some numbers of the world replaced."""
    overrides = "".join(f"rule {name} {value}\n" for name, value in rules.items())
    head, layers = plan.split("layer 0", 1)
    return layout_from_plan(f"{head}{overrides}layer 0{layers}")


def locked_hall(kilns: int, rows: int = 1) -> Layout:
    """Rows of kilns side by side, each with a burst row and its lock above (``outside.rows``), a fuel bin for each kiln
    behind it, and product nodes below that push east into a bin of the row."""
    parts: list[Part] = []
    streams: list[Stream] = []
    for row in range(rows):
        built = burst_row_layout(kilns)
        parts += [replace(part, at=_moved(part.at, row)) for part in built.parts]
        outputs = tuple(_moved(cell, row) for cell in built.streams[0].outputs)
        streams.append(Stream(f"feed-{row}", "clay", _moved(built.streams[0].source, row), outputs))
        for x, y, z in outputs:
            finish: Finish = "marked" if x % 2 else "plain"
            parts += [Node((x, y, z - 1), "E"), Node((x, y + 1, z), "S"), Bin((x, y + 1, z + 1), finish)]
            streams.append(Stream(f"fuel-{row}-{x}", "charcoal", (x, y + 1, z + 1), ((x, y, z),)))
        parts.append(Bin((kilns + 1, outputs[0][1], 0)))
    items = {"clay": ItemKind(fires_to="brick"), "charcoal": ItemKind(burn=1600)}
    size = (kilns + 3, 7 * rows, 5)
    return Layout(f"{rows} rows of {kilns} kilns", size, items, tuple(parts), tuple(streams), Numbers().rules())


def _moved(cell: Cell, row: int) -> Cell:
    """One up, to leave room for the product nodes, and north of the rows before."""
    return cell[0], cell[1] + 7 * row, cell[2] + 1
