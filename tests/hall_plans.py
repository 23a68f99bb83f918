"""A small hall for tests: two kilns, clay from above, charcoal from the south, bricks out below; and what can be done
to it so that its rows disturb each other.

Each row locks its B nodes while its T0 holds something: a gauge beside T0, a run of lines round a corner (so that it
does not become a side input of its own gauge), and on along the kilns, a support beside each B below it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from sim.world.files.plan import layout_from_plan
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Line, Node, Part, Relay, Support

HALL = """splitwright-plan/1
title  Two kilns with feed, fuel and product
item   clay stack 64 fires-to brick
item   charcoal stack 64 burn 1600
item   brick stack 64
stream feed clay from 0,3,4 to 2,3,1 3,3,1
stream fuel charcoal from 0,2,3 to 2,3,1 3,3,1
layer 0
.  .  .  .  .  .
.  .  .  .  .  .
.  .  nE nE B  .
.  .  .  .  .  .
.  .  .  .  .  .
.  .  .  .  .  .
layer 1
.  .  .  .  .  .
.  .  .  .  .  .
.  .  F  F  .  .
.  .  nN nN .  .
#  .  #  #  .  .
#  #  #  .  .  .
layer 2
#  #  #  .  .  .
#  .  #  #  .  .
.  .  nD nD .  .
nE nE nE nE .  .
gS .  -  -  .  .
-  -  -  .  .  .
layer 3
-  -  -  .  .  .
gN .  -  -  .  .
nE nE nE nE .  .
B  .  .  .  .  .
.  .  .  .  .  .
.  .  .  .  .  .
layer 4
.  .  .  .  .  .
.  .  .  .  .  .
B  .  .  .  .  .
.  .  .  .  .  .
.  .  .  .  .  .
.  .  .  .  .  .
"""


KILN_COLUMN, END_COLUMN = 3, 4
JOINT: Mapping[tuple[int, int], Part] = {
    (3, 0): Node((0, 3, 0), "E"),
    (2, 2): Node((0, 2, 2), "E"),
    (3, 3): Node((0, 3, 3), "E"),
    (1, 1): Support((0, 1, 1)),
    (4, 2): Support((0, 4, 2)),
    (1, 2): Relay((0, 1, 2), "E"),
    (4, 3): Relay((0, 4, 3), "E"),
}
"""A column without a kiln, by y and z: a relay in each run of lines."""


def hall(kilns: int = 2) -> Layout:
    """The hall whose rows keep to themselves. Beyond two kilns the last kiln's column is repeated, with a relay in each
    run after every eight."""
    two = layout_from_plan(HALL)
    first = [part for part in two.parts if part.at[0] < KILN_COLUMN]
    kiln = [part for part in two.parts if part.at[0] == KILN_COLUMN]
    end = [part for part in two.parts if part.at[0] > KILN_COLUMN]
    x, outputs, parts = KILN_COLUMN, [(2, 3, 1)], first
    for number in range(1, kilns):
        if number % 8 == 0:
            parts += [moved(part, x) for part in JOINT.values()]
            x += 1
        parts += [moved(part, x - KILN_COLUMN) for part in kiln]
        outputs.append((x, 3, 1))
        x += 1
    parts += [moved(part, x - END_COLUMN) for part in end]
    return replace(
        two,
        size=(x + two.size[0] - END_COLUMN, *two.size[1:]),
        parts=tuple(parts),
        streams=tuple(replace(stream, outputs=tuple(outputs)) for stream in two.streams),
    )


def moved(part: Part, east: int) -> Part:
    x, y, z = part.at
    return replace(part, at=(x + east, y, z))


def hall_with(*more: Part, kilns: int = 2) -> Layout:
    """The hall with more parts in free cells; under each line, relay and gauge a support comes by itself.

    Parts east of the second kiln are given as for the hall of two, and stand as far east of the last one.
    """
    layout = hall(kilns)
    wider = layout.size[0] - layout_from_plan(HALL).size[0]
    parts: dict[Cell, Part] = dict(layout.by_cell)
    for part in more:
        placed = moved(part, wider if part.at[0] >= END_COLUMN else 0)
        assert placed.at not in parts, placed
        parts[placed.at] = placed
        x, y, z = placed.at
        if isinstance(placed, (Line, Relay, Gauge)) and z > 0:
            parts.setdefault((x, y, z - 1), Support((x, y, z - 1)))
    return replace(layout, parts=tuple(parts.values()))


def lines(*cells: Cell) -> list[Part]:
    return [Line(cell) for cell in cells]


TOUCHING = (*lines((4, 4, 3), (5, 4, 3), (5, 3, 3)), *lines((4, 1, 2), (5, 1, 2), (5, 2, 3)))
"""Both runs go on to the east and meet in 5,3,3 and 5,2,3, side by side."""
TOUCHING_A_STEP_UP = (*lines((4, 4, 3), (5, 4, 3), (5, 3, 3)), *lines((4, 1, 2), (5, 1, 2), (5, 2, 2)))
"""They meet in 5,3,3 and 5,2,2, one step down."""
SHARED_SUPPORT = (Gauge((4, 3, 2), "E"), Support((5, 3, 2)), *lines((4, 1, 2), (5, 1, 2)), Relay((5, 2, 2), "N"))
"""A gauge on the feed's last B and a relay of the fuel's run both put out into 5,3,2."""
FEED_OVER_FUEL = tuple(lines((4, 4, 3), (4, 3, 3), (4, 2, 3)))
"""The feed's run goes on over the support at 4,2,2, beside the fuel's last T."""
KILN_ENERGISED = (Gauge((4, 3, 2), "E"), *lines((5, 3, 2), (5, 4, 1), (5, 5, 1), (4, 5, 1), (3, 5, 1), (3, 4, 1)))
"""A gauge on the feed's last B, and a run that ends in a line that points into the second kiln."""
INVERTER_BESIDE = (*lines((4, 4, 3), (4, 3, 3)), Inverter((4, 2, 2), "N"))
"""An inverter on a support of the feed's run, beside the fuel's last T."""
RELAY_IN_FRONT = (Gauge((4, 3, 3), "E"), *lines((5, 3, 3), (5, 2, 2), (5, 1, 2)), Relay((4, 1, 2), "W"))
"""A gauge on the feed's last T drives a relay that puts out into the end of the fuel's run."""
VARIANTS: Mapping[str, tuple[Part, ...]] = {
    "touching": TOUCHING,
    "touching a step up": TOUCHING_A_STEP_UP,
    "shared support": SHARED_SUPPORT,
    "feed over fuel": FEED_OVER_FUEL,
    "kiln energised": KILN_ENERGISED,
    "inverter beside": INVERTER_BESIDE,
    "relay in front": RELAY_IN_FRONT,
}
