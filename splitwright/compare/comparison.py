"""Layouts set side by side: what each measures, and how they stand to each other."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from sim.world.layout import Layout
from sim.world.rulebook import Rules
from splitwright.cli.measuring import DefaultRun, default_run, measured_layout
from synth.confirm.built import Built
from synth.confirm.confirmation import handovers_to_try
from synth.confirm.loads import largest
from synth.confirm.proposal import Proposal
from synth.hall.result import HallProposal
from synth.search.front import dominates, pareto_front

Standing = Literal["front", "beaten", "apart"]
"""``apart``: not compared by its measures, since it is not even or nothing arrives."""
Rate = Literal["items", "products"]

EVENNESS: Final = "evenness"
MEASURES: Final = ("volume", "parts", "latency")
"""What the front is about, and the plots show."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One layout. ``number``: its rank, from 1. ``file``: its name as it was given ("": none). ``sheet``: the address
    of its build sheet, as seen from the page ("": there is none). ``throughput``: in an hour, None: not told.
    ``steady``: items an hour of the slowest stream in steady flow, None: not told.

    ``built``, ``latency``, ``held``, ``runs``: as in ``LayoutMeasures``.
    """

    number: int
    layout: Layout
    built: Built
    latency: int | None
    throughput: float | None
    steady: float | None
    held: int
    runs: tuple[DefaultRun, ...]
    file: str = ""
    sheet: str = ""

    @property
    def is_even(self) -> bool:
        """The default load is split evenly, under the handover in force."""
        return bool(self.runs) and self.runs[0].outcome == "even"

    @property
    def outputs(self) -> tuple[int, ...]:
        """How many outputs each of its streams has."""
        return tuple(len(stream.outputs) for stream in self.layout.streams)

    def measure(self, name: str) -> float:
        """A measure by its name in specs, the less the better; what is not known comes last."""
        if name == "latency":
            return math.inf if self.latency is None else self.latency
        if name == "throughput":
            return math.inf if self.throughput is None else -self.throughput
        return float(getattr(self.built, name))

    @property
    def point(self) -> tuple[int, int, int] | None:
        """Volume, parts, latency; None: not to be compared by them."""
        if not self.is_even or self.latency is None:
            return None
        return self.built.volume, self.built.parts, self.latency


@dataclass(frozen=True, slots=True)
class Comparison:
    """``entries`` by rank. ``order``: what they are ranked by. ``priced``: a spec gives prices.

    ``rate``: what the throughput counts, ``items`` of the slowest stream or finished ``products`` of a hall.
    """

    entries: tuple[Compared, ...]
    ticks_per_second: int
    order: tuple[str, ...] = (EVENNESS, *MEASURES)
    priced: bool = False
    rate: Rate = "items"

    @property
    def standings(self) -> list[Standing]:
        """How each entry stands. O(n^2) in the entries."""
        points = [entry.point for entry in self.entries]
        front = iter(pareto_front([point for point in points if point is not None]))
        return ["apart" if point is None else "front" if next(front) else "beaten" for point in points]

    def beaten_by(self, entry: Compared) -> list[int]:
        """Numbers of the entries that are nowhere worse than this one, and somewhere better."""
        mine = entry.point
        return [
            other.number
            for other in self.entries
            if mine is not None and other.point is not None and dominates(other.point, mine)
        ]

    @property
    def handovers(self) -> list[int]:
        """Every handover that an entry was tried under."""
        return list(dict.fromkeys(run.handover for entry in self.entries for run in entry.runs))


def measured(layout: Layout, rules: Rules, file: str = "", prices: Mapping[str, int] | None = None) -> Compared:
    """A layout by itself, without a rank. ``prices``: of one part, by kind (None, empty: none are known)."""
    m = measured_layout(layout, rules, prices or {})
    steady = min(m.steady.values()) if len(m.steady) == len(layout.streams) > 0 else None
    return Compared(0, layout, m, m.latency, m.throughput, steady, m.held, m.runs, file)


def ranked(entries: Iterable[Compared], order: Sequence[str] = MEASURES) -> tuple[Compared, ...]:
    """Even ones first, then by ``order`` (names of measures, as a spec has them); alike ones stay in their order. Last
    come those that could not be tried, as they have no room for a load or no stream."""

    def key(entry: Compared) -> tuple[float, ...]:
        untried = (not entry.layout.streams, not entry.runs)
        return *untried, not entry.is_even, *(entry.measure(name) for name in order)

    return numbered(sorted(entries, key=key))


def numbered(entries: Iterable[Compared]) -> tuple[Compared, ...]:
    """The entries with their ranks, in the order that they are in."""
    return tuple(replace(entry, number=number) for number, entry in enumerate(entries, 1))


def of_proposals(
    proposals: Sequence[Proposal | HallProposal], rules: Rules, sheets: Mapping[int, str]
) -> tuple[Compared, ...]:
    """The layouts of a search, by rank, as it measured them. ``sheets``: addresses by rank.

    ``rules``: those in force. A trial is run only under a handover of which the search does not tell.
    """
    return tuple(
        Compared(
            number,
            proposal.layout,
            proposal.measures,
            proposal.measures.latency,
            _throughput(proposal),
            None if isinstance(proposal, HallProposal) else proposal.measures.steady,
            proposal.measures.held,
            tuple(_run(proposal, handover, rules) for handover in handovers_to_try(rules)),
            file=f"layout-{number}.json",
            sheet=sheets.get(number, ""),
        )
        for number, proposal in enumerate(proposals, 1)
    )


def _throughput(proposal: Proposal | HallProposal) -> float:
    return float(proposal.measures.output) if isinstance(proposal, HallProposal) else proposal.measures.throughput


def _run(proposal: Proposal | HallProposal, handover: int, rules: Rules) -> DefaultRun:
    """The largest load that a search confirms its layouts by (18 items a target, where there is room for so many)."""
    per_target = largest(proposal.measures.loads)
    if handover in proposal.measures.handovers:
        return DefaultRun(handover, "even", {}, per_target)
    return default_run(proposal.layout, rules, handover, per_target)
