"""What a search is about: the handovers that a layout must work under, and the scope of every claim."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from synth.confirm import handovers_to_try
from synth.plots import windows
from synth.schemes.registry import scheme_of
from synth.schemes.scheme import DelayWindow, Scheme, Windows
from synth.spec import Spec

_ROWS: Final = {"any": "horizontal steps", "straight": "straight rows only"}


def needed_handovers(spec: Spec) -> tuple[int, ...]:
    """The handovers a layout must work under: all known ones where the row's delays allow it, else the one in force."""
    every = handovers_to_try(spec.rules)
    unit = spec.rules.gauge_delay
    possible = all(_holds_multiple(window, unit) for window in windows(spec, every).values())
    return every if possible or spec.demands.handover == "both" else (spec.rules.handover,)


def required_handovers(spec: Spec) -> tuple[int, ...]:
    """The handovers that a layout cannot do without: the one in force, or all known ones where the spec demands it."""
    return handovers_to_try(spec.rules) if spec.demands.handover == "both" else (spec.rules.handover,)


def _holds_multiple(window: DelayWindow, unit: int) -> bool:
    return window.least <= window.most and window.most // unit * unit >= window.least


def scope_of(spec: Spec, within: Windows, handovers: tuple[int, ...]) -> list[str]:
    """What every claim of a search is about, in sentences."""
    rules, scheme = spec.rules, scheme_of(spec)
    read = {watch.label: scheme.words(watch.nodes, spec.outputs) for watch in scheme.watches}
    delays = ", ".join(f"from {read[label]} {window.least} to {window.most}" for label, window in within.items())
    return [
        f"scheme: {scheme.name}, {_ROWS[spec.row]}, {_locked(scheme, spec.outputs)} locked by signals from gauges on "
        f"{' and '.join(read.values())} only{_apart(scheme)}",
        f"wiring without feedback or latched relays, chains of at most {scheme.stages(rules)} ticks, "
        f"{delays} ticks to the locks",
        f"rulebook: {spec.rulebook.title}; handover {' and '.join(map(str, handovers))}",
        *_tried(spec),
    ]


def _locked(scheme: Scheme, outputs: int) -> str:
    names = [scheme.words(nodes, outputs) for nodes in scheme.lockable() if scheme.members(nodes, outputs)]
    return " and ".join(names) or "no node"


def _apart(scheme: Scheme) -> str:
    apart = any(watch.apart for watch in scheme.watches)
    full = ", each passing a full reading only" if scheme.reads_full else ""
    return full + (", each lock by those of its own number and the last" if apart else "")


def _tried(spec: Spec) -> Iterator[str]:
    if spec.even_for == "stream":
        yield "even for loads that are there at once and for the gaps between items that were tried"
    else:
        yield "even for loads that are there at once; trickling input was not tried"
    if spec.demands.arrivals == "all":
        yield "each shown even for every pattern of arrivals, by search over all states"
    if spec.demands.orders == "all":
        yield "each shown even in every update order that can matter"
    if spec.demands.throughput is not None:
        yield f"of layouts that pass {spec.demands.throughput:g} items an hour in steady flow"
