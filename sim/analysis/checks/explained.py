"""Findings that tell which rows they concern, and step by step how a signal gets from the one to the other."""

from __future__ import annotations

from dataclasses import dataclass

from sim.analysis.couplings import Step
from sim.world.world import Finding


@dataclass(frozen=True, slots=True)
class Explained(Finding):
    """``streams``: the rows concerned ("product" for what comes out of furnaces). ``path``: from a gauge, cell by cell,
    to what it drives; empty where there is nothing to follow."""

    streams: tuple[str, ...] = ()
    path: tuple[Step, ...] = ()
