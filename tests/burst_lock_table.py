"""The burst row's lock table with its two watched ends by name, for those who hold it against the simulator.

The scheme itself is data of ``synth/schemes/burst_row.py``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from synth.schemes.burst_row import SCHEME


@dataclass(frozen=True, slots=True)
class LockRow:
    """One row of the truth table: whether the B nodes are locked."""

    head_holds: bool
    tail_holds: bool
    locked: bool

    def holds(self, end: str) -> bool:
        """Whether the watched node at that end holds something."""
        return self.head_holds if end == "head" else self.tail_holds


LOCK_TABLE: Final = tuple(LockRow(row.reads[0], row.reads[1], bool(row.locked[-1])) for row in SCHEME.table)
