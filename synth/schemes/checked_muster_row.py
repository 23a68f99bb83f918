"""The checked muster row: a muster row whose T nodes hold an item back until their own B has taken one.

As the muster row; and Tj, for 1 < j < N, is locked while Bj is empty. In some update orders an item that reaches Tj
just when Bj is released would slip past before Bj can take it; here it cannot leave.
"""

from __future__ import annotations

from typing import Final

from synth.schemes.muster_row import OWN, TAIL, windows
from synth.schemes.scheme import LockRow, Nodes, Scheme, Which, by_the_source, nothing, one_period

SCHEME: Final = Scheme(
    name="checked muster row",
    about="a muster row in which no item passes an empty B; even for any stream, ends empty, nothing to fill in",
    even_for=("stream",),
    leaves="deliver",
    first=1,
    watches=(OWN, TAIL),
    classes=(
        Nodes("T", Which.FIRST),
        Nodes("T", Which.INNER),
        Nodes("B", Which.ALL_BUT_LAST),
        Nodes("B", Which.LAST),
    ),
    table=(
        LockRow((False, False), (False, True, False, False)),
        LockRow((True, False), (False, False, True, False)),
        LockRow((False, True), (False, True, False, False)),
        LockRow((True, True), (False, False, False, False)),
    ),
    windows=windows,
    stages=one_period,
    held=nothing,
    quickest=by_the_source,
    promise=50,
    outputs_least=3,
)
