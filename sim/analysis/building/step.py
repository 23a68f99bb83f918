"""What a build order is made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.world.geometry import Cell, Direction
from sim.world.parts import Part
from sim.world.statement import Statement

Action = Literal["place", "remove"]


@dataclass(frozen=True, slots=True)
class BuildStep:
    """One thing that a person does. ``number``: counted from 1.

    ``part``: what is placed or taken away; a Support if ``is_temporary``. ``against``: the cell of the body or ground
    that it goes against or hangs on (of one taken away: went against). ``facing``: the direction that is set by placing
    it, a node's outlet, an inverter's mount, the output of a gauge or relay; else None. ``layer``: the layer that is
    under way, which is the highest one of any part that stays, up to this step; temporary supports count with the part
    that they are for. So it never falls from one step to the next. ``why``: why the step can be done, and what for.
    """

    number: int
    action: Action
    part: Part
    is_temporary: bool
    against: Cell
    facing: Direction | None
    layer: int
    why: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class BuildOrder:
    """``why_impossible``: one statement for each part that no step places. Nothing is said twice."""

    steps: tuple[BuildStep, ...]
    why_impossible: tuple[Statement, ...]
