"""The gated row (design notes, "The gated row"; its lock is another one): a burst row behind a gate.

The source bin stands above C, which pushes into G, the gate; G pushes into T0, from where it is a burst row. G is
locked while T(N-1) holds something, and while T0 is empty and G reads less than 2. So a round begins only when G
holds enough for the whole of it (a node of five slots of 64 reads 2 from 23 items on), runs on without a gap while T0
holds, and ends after N items: T(N-1) is reached when the Nth has left G.

Nothing is filled in first; what comes and does not make up a round waits in G, one item less than it takes to read 2.
"""

from __future__ import annotations

from itertools import product
from typing import Final

from sim.world.rulebook import Rules
from synth.schemes.filling import count_reading
from synth.schemes.scheme import DelayWindow, LockRow, Nodes, Scheme, Watch, Which, Windows, by_the_source

LEVEL: Final = 2
"""Reading of G from which it has enough for a round."""
C: Final = Nodes("T", Which.FIRST)
G: Final = Nodes("T", Which.SECOND)
B: Final = Nodes("B")


def fills_up(rules: Rules, stack: int) -> int:
    """Items of that stack limit from which G reads enough; 0 where it never does."""
    return count_reading(LEVEL, stack, rules)


def windows(rules: Rules, outputs: int, handover: int) -> Windows:
    """Delays from each gauge to whatever it locks, found by trial on ideal locks (tests/test_gated_row.py), not
    derived.

    ``gate``: G; ``head``: T0, to the B nodes and to G; ``due``: T(N-1); ``tail``: TN. With a handover of
    ``period - s`` a node runs s ticks ahead of the one before it, so that T(N-1) and TN must not answer before the
    gaps between the items have closed; rows of a period's length are too long for that, and where T0 stands empty for
    as long as a gauge takes, its gauge follows, and nothing helps. With a handover longer than the period none is
    known.
    """
    period, ahead = rules.period, max(0, rules.period - handover)
    gate, half = DelayWindow(0, period), period // 2
    if not ahead:
        head = DelayWindow(0, min(period * 3 // 4, half + rules.gauge_delay))
        due = DelayWindow(half if handover == period else period + 1, period)
        tail = DelayWindow(0, period)
    else:
        closed = ahead * outputs
        head = DelayWindow(0, half)
        possible = closed < period and ahead < rules.gauge_delay
        soonest = max(half, closed + (closed == period - 1))
        due = DelayWindow(soonest if possible else period + 1, period)
        tail = DelayWindow(min(max(half, closed), period - 2), period - 2)
    return {"gate": gate, "head": head, "due": due, "tail": tail}


def _stages(rules: Rules) -> int:
    return rules.period


def _held(_outputs: int, rules: Rules, stack: int) -> int:
    """What waits in G."""
    return max(0, fills_up(rules, stack) - 1)


def _table() -> tuple[LockRow, ...]:
    """G and the B nodes; no other is ever locked. While G has enough and the row is empty a round is about to begin,
    and the B nodes may wait for it locked or not: so one lock line can say "T0 holds or G has enough" to both."""
    rows = []
    for gate, head, due, tail in product((False, True), repeat=4):
        opens = not due and (gate or head)
        holds_back = None if gate and not head and not tail else head and not tail
        rows.append(LockRow((gate, head, due, tail), (False, not opens, False, holds_back)))
    return tuple(rows)


SCHEME: Final = Scheme(
    name="gated row",
    about="a gate lets out N items at a time into a burst row; even for any stream, nothing to fill in",
    even_for=("burst", "stream"),
    leaves="hold",
    first=-2,
    ahead=("C", "G"),
    watches=(
        Watch("gate", G, level=LEVEL, locks=(G, B)),
        Watch("head", Nodes("T", Which.THIRD), locks=(G, B)),
        Watch("due", Nodes("T", Which.LAST_BUT_ONE), locks=(G,)),
        Watch("tail", Nodes("T", Which.LAST), locks=(B,)),
    ),
    classes=(C, G, Nodes("T", Which.FROM_THIRD), B),
    table=_table(),
    windows=windows,
    stages=_stages,
    held=_held,
    quickest=by_the_source,
    promise=40,
    outputs_least=2,
    outputs_most=fills_up,
)
