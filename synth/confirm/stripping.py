"""Take out of a confirmed layout every part that it works without."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sim.analysis.checks.standing import no_support
from sim.world.layout import Layout
from sim.world.parts import Part, Support
from sim.world.rulebook import Rules

Accepts = Callable[[Layout], bool]


def stripped(layout: Layout, rules: Rules, quickly: Accepts, fully: Accepts) -> Layout:
    """``layout`` without parts that it can do without: signal parts first, then supports that carry nothing.

    ``quickly`` screens each removal, ``fully`` decides on the whole; where that refuses, every removal is decided by
    it. Calls: at most two a part.
    """
    quick = _without_needless(layout, rules, quickly)
    return quick if fully(quick) else _without_needless(layout, rules, fully)


def _without_needless(layout: Layout, rules: Rules, accepts: Accepts) -> Layout:
    kept = layout
    for part in _candidates(layout):
        fewer = replace(kept, parts=tuple(other for other in kept.parts if other != part))
        if not any(no_support(fewer, rules)) and accepts(fewer):
            kept = fewer
    return kept


def _candidates(layout: Layout) -> list[Part]:
    """The wiring, signal parts before supports, high before low, so that what hangs on a part goes first."""
    wiring = [part for part in layout.parts if part.kind in ("line", "inverter", "relay", "gauge", "support")]
    return sorted(wiring, key=lambda part: (isinstance(part, Support), -part.at[2]))
