"""What a search is about: the handovers that a layout must work under, and the scope of every claim."""

from __future__ import annotations

from typing import Final

from synth.confirm import handovers_to_try
from synth.model.question import DelayWindow
from synth.plots import windows
from synth.scheme import NAME, head_window
from synth.spec import Spec

_ROWS: Final = {"any": "horizontal steps", "straight": "straight rows only"}


def needed_handovers(spec: Spec) -> tuple[int, ...]:
    """The handovers a layout must work under: all known ones where the row's delays allow it, else the one in force."""
    every = handovers_to_try(spec.rules)
    window = windows(spec, every)
    unit = spec.rules.gauge_delay
    possible = window.least <= window.most and window.most // unit * unit >= window.least
    return every if possible else (spec.rules.handover,)


def scope_of(spec: Spec, window: DelayWindow, handovers: tuple[int, ...]) -> list[str]:
    """What every claim of a search is about, in sentences."""
    rules = spec.rules
    return [
        f"scheme: {NAME}, {_ROWS[spec.row]}, every B node locked by signals from gauges on T0 and TN only",
        f"wiring without feedback or latched relays, chains of at most {head_window(rules).most} ticks, "
        f"from TN to the locks {window.least} to {window.most} ticks",
        f"rulebook: {spec.rulebook.title}; handover {' and '.join(map(str, handovers))}",
        "even for loads that are there at once; trickling input was not tried",
    ]
