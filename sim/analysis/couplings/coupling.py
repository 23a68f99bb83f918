"""What a coupling is: a signal of one row that gets into another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.analysis.couplings.telling import Step
from sim.world.geometry import Cell

CouplingKind = Literal["meets", "locks", "product", "steady"]


@dataclass(frozen=True, slots=True)
class Coupling:
    """Signals of one row that meet, or lock, what is another's, told once for all nodes that they lock from there.

    ``kind``: *meets*: gauges of both rows drive one run, solid cell or part; *locks*: signals of one row alone lock
    nodes of another; *product*: they lock product nodes, which nothing is to lock but what
    locks the nodes of one row in the same moment (product then waits while that row fills); *steady*: product nodes are
    locked by what is on by no gauge's doing. ``source``: the gauge (or that inverter) at the start of ``path``.
    ``from_stream``: the row that the gauge reads ("" for none; several, ``a and b``, for what they share);
    ``to_stream``: the other row, or "product". ``streams``: all the rows concerned. ``at``: the cell where they first
    meet. ``target``: the end of ``path``, the nearest node concerned, or ``at`` where none is. ``nodes``: every node
    that is locked from there by a row that is not its own, nearest first. ``is_always``: whatever the containers hold.
    """

    kind: CouplingKind
    at: Cell
    source: Cell
    from_stream: str
    to_stream: str
    streams: tuple[str, ...]
    target: Cell
    nodes: tuple[Cell, ...]
    path: tuple[Step, ...]
    text: str
    is_always: bool = False
