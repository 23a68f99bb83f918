"""What only a run shows: signals that never settle, inverters that overheat, builds that never rest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.rulebook import Rules, known_handovers
from sim.world.trial import DEFAULT_LOAD_PER_TARGET, arrivals_for, run_trial
from sim.world.world import Finding, World

TICKS_MOST: Final = 100_000
"""Ticks after which a run that has not come to rest is left alone."""
REMEDIES: Final = {
    "never settles": "look for a loop of parts that drives itself, and break it",
    "overheats": "slow down what drives it, or break the loop that it is in",
    "never rests": "look for a loop of parts that drives itself, and break it",
}


def run_findings(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """The findings of the default trial under both handovers; one that only one of them shows says so."""
    seen: dict[tuple[str, Cell | None], dict[int, Finding]] = {}
    loads = loads_that_fit(layout, rules)
    for handover in known_handovers():
        version = replace(layout, rules={**layout.rules, "handover": handover})
        result = run_trial(version, arrivals_for(version, loads), limit=TICKS_MOST, rules=rules)
        for finding in result.findings:
            seen.setdefault((finding.check, finding.at), {})[handover] = finding
    for shown in seen.values():
        handover, finding = next(iter(shown.items()))
        only = "" if len(shown) == len(known_handovers()) else f" (with handover {handover} only)"
        yield replace(finding, text=f"{finding.text}{only}; {REMEDIES[finding.check]}")


def loads_that_fit(layout: Layout, rules: Rules) -> dict[str, int]:
    """The default load of each stream, or as much of it as its source has room for."""
    stores = World(layout, rules).stores
    loads = {}
    for stream in layout.streams:
        wanted = DEFAULT_LOAD_PER_TARGET * len(stream.outputs)
        loads[stream.name] = next((n for n in range(wanted) if not stores[stream.source].put(stream.item)), wanted)
    return loads
