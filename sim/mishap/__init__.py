"""Where a split went wrong: the tick, the place and, where the recording shows it, the cause."""

from sim.mishap.found import mishaps
from sim.mishap.mishap import Mishap, MishapKind

__all__ = ["Mishap", "MishapKind", "mishaps"]
