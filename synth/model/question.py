"""The question that one model answers: which box, which streams, which truth table, which delays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from sim.world.geometry import Cell, Direction
from synth.ask.spec import Face
from synth.model.grid import Grid
from synth.schemes.burst_row import SCHEME as BURST_ROW
from synth.schemes.scheme import Scheme, Windows

Standing = Literal["node", "bin", "product"]


@dataclass(frozen=True, slots=True)
class StreamQuestion:
    """One split in the box's own coordinates. ``source_cells``: where the source bin may stand (None: anywhere)."""

    name: str
    face: Face
    source_cells: frozenset[Cell] | None = None
    outputs_at: tuple[Cell, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of one box.

    ``origin``, ``site``: where the box stands in which site (None: the box is the site), for the layout made of it.
    ``windows``: for gauges of each label, the delays on the way to every lock. ``scheme``: what carries the items.
    ``stages``: ticks that the longest chain of parts may take. ``straight``: pin the row to one direction. ``unbent``:
    rows run straight, in any direction. ``beside``: T0 stands beside T1 of a row that is pinned to one direction.
    ``row_unlocked``: no T node is ever locked, unless the scheme has it so (narrower than splitting needs).
    ``repeat``: first and last of the columns along a straight row that are to be alike.
    ``levels``: of a full source; ``reading``: of a gauge whose node holds something.
    ``standing``: containers of other rows that stand in the box; their nodes are never to be locked, but product nodes,
    which may wait while the row fills.
    ``barred``: kinds of parts (words of the files) that must not stand in a cell.
    """

    grid: Grid
    outputs: int
    streams: tuple[StreamQuestion, ...]
    reach: int
    inverter_delay: int
    gauge_delay: int
    relay_step: int
    stages: int
    windows: Windows
    most: Mapping[str, int] = field(default_factory=dict)
    straight: Direction | None = None
    unbent: bool = False
    beside: bool = False
    row_unlocked: bool = False
    repeat: tuple[int, int] | None = None
    standing: Mapping[Cell, Standing] = field(default_factory=dict)
    barred: frozenset[tuple[Cell, str]] = frozenset()
    levels: int = 15
    reading: int = 1
    break_symmetry: bool = True
    origin: Cell = (0, 0, 0)
    site: tuple[int, int, int] | None = None
    scheme: Scheme = BURST_ROW
