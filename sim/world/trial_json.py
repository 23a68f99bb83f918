"""``splitwright-trial/1``: what a trial came to, as JSON (formats, "Commands")."""

from __future__ import annotations

from typing import Any, Final

from sim.world.geometry import cell_text
from sim.world.trial import StreamResult, TrialResult
from sim.world.world import Finding

FORMAT: Final = "splitwright-trial/1"


def trial_document(result: TrialResult) -> dict[str, Any]:
    """The document of a result; cells as keys are ``"x,y,z"``, ticks as in the result."""
    return {
        "format": FORMAT,
        "tick": result.tick,
        "at_rest": result.at_rest,
        "streams": [_stream_document(stream) for stream in result.streams],
        "contents": {
            cell_text(cell): [None if slot is None else list(slot) for slot in slots]
            for cell, slots in result.contents.items()
        },
        "signals": {cell_text(cell): value for cell, value in result.signals.items()},
        "locked": [cell_text(cell) for cell in result.locked],
        "findings": [finding_document(finding) for finding in result.findings],
    }


def finding_document(finding: Finding) -> dict[str, Any]:
    """A finding; ``at`` and ``tick`` only where they apply."""
    document: dict[str, Any] = {"check": finding.check}
    if finding.at is not None:
        document["at"] = list(finding.at)
    if finding.tick is not None:
        document["tick"] = finding.tick
    return {**document, "text": finding.text}


def _stream_document(stream: StreamResult) -> dict[str, Any]:
    return {
        "name": stream.name,
        "delivered": list(stream.delivered),
        "spread": stream.spread,
        "held_at_start": stream.held_at_start,
        "held": stream.held,
        "first_arrival": stream.first_arrival,
        "last_arrival": stream.last_arrival,
        "jain": float(stream.jain),
        "largest_lag": stream.largest_lag,
        "largest_lag_tick": stream.largest_lag_tick,
    }
