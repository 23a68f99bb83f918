"""What is shown of a layout beyond its trials: verdicts for the list of proposals, and those that a spec demands.

``sim.assure`` asks; here stands only which questions, under which handovers and within which limits.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from sim.assure.all_orders import every_arrival_in_every_order, every_order
from sim.assure.arrivals import every_arrival
from sim.assure.asking import ask, warm_up
from sim.assure.request import Request
from sim.assure.subject import Subject
from sim.assure.verdict import Question, Verdict
from sim.layout import Layout
from synth.request import Request as SearchRequest
from synth.result import Proposal, Shown
from synth.spec import Spec

LISTED: Final[tuple[Question, ...]] = ("load", "drift", "gaps", "arrivals", "orders", "handover")
"""What is told of each layout in a list."""
LEAST_S: Final = 10.0
"""Seconds that each layout of a list has at least."""
DEMAND_S: Final = 60.0
"""Seconds in which a candidate must show what the spec demands of it."""
MEBIBYTES: Final = 512
"""Memory of the search over all arrivals for one layout."""

def with_verdicts(proposals: Sequence[Proposal], spec: Spec, left_s: float, search: SearchRequest) -> list[Proposal]:
    """The proposals with what is shown of each, under each known handover, in the seconds left to the search (some
    seconds each in any case); as they are from Ctrl-C on."""
    search.told("compiling what tells when a split is even, where that was not done before")
    warm_up()
    share = max(LEAST_S, left_s / max(1, len(proposals)))
    found: list[Proposal] = []
    for rank, proposal in enumerate(proposals, 1):
        if search.stop.is_set():
            found.append(proposal)
            continue
        search.told(f"what is shown of layout {rank}?")
        request = Request(share, MEBIBYTES, search.workers, search.seed, LISTED, stop=search.stop)
        found.append(replace(proposal, verdicts=tuple(ask(proposal.layout, request, spec.rules).verdicts)))
    return found


def demands_met(layout: Layout, spec: Spec, handovers: Sequence[int], seconds: float = DEMAND_S) -> Shown:
    """Whether a layout is shown to be what the spec demands, under each of ``handovers``."""
    warm_up()
    found: Shown = "shown"
    for verdict in _demanded(layout, spec, handovers, seconds):
        if verdict.verdict == "refuted":
            return "refuted"
        if verdict.verdict != "proved":
            found = "open"
    return found


def _demanded(layout: Layout, spec: Spec, handovers: Sequence[int], seconds: float) -> Iterator[Verdict]:
    """The cheap and the telling ones first: what is refuted is mostly refuted at once."""
    every_load, every_pattern = spec.demands.orders == "all", spec.demands.arrivals == "all"
    request = Request(seconds, MEBIBYTES, 1)
    subjects = [Subject(layout, spec.rules, handover) for handover in handovers]
    for subject in subjects:
        if every_pattern:
            yield from every_arrival(subject, request, MEBIBYTES)
        if every_load:
            yield from every_order(subject, request)
    if every_pattern and every_load:
        for subject in subjects:
            yield from every_arrival_in_every_order(subject, request, MEBIBYTES)
