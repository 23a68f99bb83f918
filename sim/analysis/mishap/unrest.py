"""A run that does not come to rest: what goes on changing."""

from __future__ import annotations

from typing import Final

from sim.analysis.mishap.mishap import Mishap
from sim.world.layout import Stream
from sim.world.parts import Line
from sim.world.recording import Recording
from sim.world.statement import Statement, mention
from sim.world.trial import TrialResult

LOOK_BACK: Final = 100
"""Ticks before the end in which whatever changes is told."""


def never_rests(result: TrialResult) -> bool:
    """The run was found never to come to rest, or was given up before it did."""
    return result.stopped or result.repeats


def unrest(recording: Recording, stream: Stream) -> Mishap:
    """The parts that still change, signal parts before containers; ``at`` is the first of them, or the source."""
    last, signals = recording.last_tick, recording.signals
    since = last - LOOK_BACK
    moving = {cell for move in recording.moves if move.tick > since for cell in (move.source, move.target)}
    parts = [part for part in recording.layout.parts if not isinstance(part, Line)]
    cells = [part.at for part in parts if part.at in signals and signals[part.at][-1][0] > since]
    cells += [part.at for part in parts if part.at in moving]
    statements = [
        Statement("mishap.no_rest", {"ticks": last}) if recording.result.stopped else Statement("mishap.never_rests")
    ]
    if cells:
        named = tuple(mention(recording.layout, cell) for cell in cells)
        statements.append(Statement("mishap.goes_on", {"ticks": LOOK_BACK, "parts": named}))
    return Mishap(stream.name, last, cells[0] if cells else stream.source, tuple(statements), "unrest")
