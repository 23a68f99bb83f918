"""Where a split went wrong: the tick, the place and, where the recording shows it, the cause."""

from sim.analysis.mishap.found import mishaps
from sim.analysis.mishap.mishap import Mishap, MishapKind

__all__ = ["Mishap", "MishapKind", "mishaps"]
