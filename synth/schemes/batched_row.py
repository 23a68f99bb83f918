"""The batched row: a gate that lets N items out at a time, without a gap, into the bin of a burst row.

Bulk service, in the words of queueing: items wait until there are enough for a batch, and then go N at a time. What
comes to the row is a load of N that is there at once, whatever comes to the gate. The gate measures a batch by time
(``synth/search/known/gate``), so nothing comes back to it from the row: any burst row will do, under each handover
that the row itself is right for. Not searched for: it is put together from known builds
(``synth/search/known/batched``).
"""

from __future__ import annotations

from typing import Final

from sim.world.rulebook import Rules
from synth.schemes.burst_row import SCHEME as BURST
from synth.schemes.gated_row import fills_up
from synth.schemes.scheme import Scheme, Windows, by_the_source, one_period


def windows(rules: Rules, outputs: int, handover: int) -> Windows:
    """Those of the row."""
    return BURST.windows(rules, outputs, handover)


def _held(_outputs: int, rules: Rules, stack: int) -> int:
    """What waits in the gate."""
    return max(0, fills_up(rules, stack) - 1)


def _one(_outputs: int) -> int:
    return 1


JOINED: Final = Scheme(
    name="batched row",
    about="a gate that lets N items out at a time, by time, into a burst row; even for any stream, nothing to fill in",
    even_for=("burst", "stream"),
    leaves="hold",
    first=BURST.first,
    watches=(),
    classes=(),
    table=(),
    windows=windows,
    stages=one_period,
    held=_held,
    quickest=by_the_source,
    promise=50,
    outputs_least=2,
    outputs_most=fills_up,
    joined=_one,
)
