"""The headed undrained row: an undrained row that begins with T0, the source bin above it (rulebook, fact 3).

T0..TN. The B nodes are locked while TN is empty; T0 has no B, so the row holds one item more than the undrained row
while it fills. No T before TN is locked while TN is empty, else nothing would ever come to TN.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from sim.world.rulebook import Rules
from synth.schemes.burst_row import tail_window
from synth.schemes.scheme import Windows
from synth.schemes.undrained_row import SCHEME as UNDRAINED_ROW


def _windows(rules: Rules, outputs: int, handover: int) -> Windows:
    """Those of a burst row: the same row, with the same end."""
    return {"tail": tail_window(rules, outputs, handover)}


SCHEME: Final = replace(
    UNDRAINED_ROW,
    name="headed undrained row",
    about="an undrained row with a node more at its head; even for a load that is there at once, keeps one in each B",
    first=0,
    windows=_windows,
    promise=60,
)
