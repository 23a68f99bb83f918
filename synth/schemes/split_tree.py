"""The split tree: splits of two or three, even for any arrivals, and below each of their outputs a gated row.

A split whose kth item leaves by output k mod p, whenever it comes, may stand in front of others of its kind: then the
items of each come by turns as well, and every output of them all gets as many (Aspnes, Herlihy and Shavit, "Counting
networks", 1994, from memory; without loops only products of the splits' own widths can be had: Aharonson and Attiya,
1995, from memory). The ones in front are muster rows; each hands an item on to the bin of the split below it, which
takes it whatever else is going on there. Not searched for: it is put together from known builds (``known/joined``).
"""

from __future__ import annotations

from typing import Final

from sim.world.rulebook import Rules
from synth.schemes.gated_row import SCHEME as GATED
from synth.schemes.scheme import Scheme, Windows, by_the_source, one_period

BRANCHES: Final[dict[int, tuple[int, ...]]] = {2: (2,), 3: (3,), 4: (2, 2)}
"""Gated rows, and the splits one above the other that lead to them, the lowest first."""
ROWS: Final = range(10, 22)
"""Outputs of a gated row of a tree."""


def branches(outputs: int) -> int:
    """How many gated rows the tree has, as few as can be; 0: there is none of so many outputs."""
    return next((p for p in BRANCHES if outputs % p == 0 and outputs // p in ROWS), 0)


def windows(rules: Rules, outputs: int, handover: int) -> Windows:
    """Those of the gated rows: the splits in front have windows of their own, and wider ones."""
    return GATED.windows(rules, outputs // max(1, branches(outputs)), handover)


def _held(outputs: int, rules: Rules, stack: int) -> int:
    """What waits in every gate, and one item less than each split in front has outputs."""
    p = branches(outputs)
    return p * GATED.held(outputs, rules, stack) + max(0, p - 1)


JOINED: Final = Scheme(
    name="split tree",
    about="splits of two or three one above the other, gated rows below them; even for any stream, nothing to fill in",
    even_for=("burst", "stream"),
    leaves="hold",
    first=1,
    watches=(),
    classes=(),
    table=(),
    windows=windows,
    stages=one_period,
    held=_held,
    quickest=by_the_source,
    promise=60,
    outputs_least=min(ROWS) * min(BRANCHES),
    outputs_most=lambda rules, stack: max(ROWS) * max(BRANCHES) if GATED.outputs_most(rules, stack) >= max(ROWS) else 0,
    joined=branches,
)
