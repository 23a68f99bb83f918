"""A trial written down: every move, firing and change of a signal or lock, tick by tick."""

from sim.world.recording.recorder import record
from sim.world.recording.recording import Burning, Event, Firing, Move, Recording, Steps, value_at
from sim.world.recording.replaying import Replay, contents_after

__all__ = [
    "Burning",
    "Event",
    "Firing",
    "Move",
    "Recording",
    "Replay",
    "Steps",
    "contents_after",
    "record",
    "value_at",
]
