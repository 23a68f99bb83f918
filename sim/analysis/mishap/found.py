"""The mishaps of a recording, put into statements: only what the recording, and the layout's ways, show."""

from __future__ import annotations

from sim.analysis.mishap.causes import Causes
from sim.analysis.mishap.mishap import Mishap
from sim.analysis.mishap.stuck import stuck
from sim.analysis.mishap.uneven import uneven
from sim.analysis.mishap.unrest import never_rests, unrest
from sim.world.layout import Stream
from sim.world.recording import Recording
from sim.world.trial import StreamResult


def mishaps(recording: Recording) -> tuple[Mishap, ...]:
    """What went wrong, one for each stream that is concerned, in the order of the streams; empty: nothing did.

    A run that neither came to rest nor was found to repeat may still draw level: nothing is said of its splits, only
    that it does not rest (one of so many ticks that were asked for only had too little time: no mishap). Of the others
    a stream that is uneven is told as that, whatever else it is; then one of a run that does not come to rest; then one
    whose items come to no output; then one that is even while more items of its kind stay in nodes than these started
    with, as some builds mean them to.
    Time: linear in the events times the outputs and in the graph of influence, but for pairs (``turns.out_of_turn``).
    """
    causes = Causes(recording)
    found = (
        _mishap(recording, causes, stream, result)
        for stream, result in zip(recording.layout.streams, recording.result.streams, strict=True)
    )
    return tuple(mishap for mishap in found if mishap is not None)


def _mishap(recording: Recording, causes: Causes, stream: Stream, result: StreamResult) -> Mishap | None:
    whole = recording.result
    if result.spread and (whole.at_rest or whole.repeats):
        return uneven(recording, causes, stream, result)
    if not whole.at_rest:
        return unrest(recording, stream) if never_rests(whole) else None
    if result.is_starved:
        return stuck(recording, causes, stream, "nothing")
    return stuck(recording, causes, stream, "left") if result.held > result.held_at_start else None
