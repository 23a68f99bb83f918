"""What a spec demands of a layout beyond its trials.

``sim.analysis.assure`` asks; here stands only which questions, under which handovers and within which limits.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from sim.analysis.assure.all_orders import every_arrival_in_every_order, every_order
from sim.analysis.assure.arrivals import every_arrival
from sim.analysis.assure.asking import warm_up
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import Subject
from sim.analysis.assure.verdict import Verdict
from sim.world.layout import Layout
from synth.ask.spec import Spec
from synth.confirm.proposal import Shown

DEMAND_S: Final = 60.0
"""Seconds in which a candidate must show what the spec demands of it."""
MEBIBYTES: Final = 512
"""Memory of the search over all arrivals for one layout."""


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
