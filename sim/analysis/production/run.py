"""Production runs of a hall: one for each incident, with checkpoints at which hands come round."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from typing import Final

from sim.analysis.production import metering as m
from sim.analysis.production.balance import balance_of
from sim.analysis.production.floor import Floor, Sample
from sim.analysis.production.hall import Hall
from sim.analysis.production.incidents import INCIDENTS, WHEN_ASKED_FOR
from sim.analysis.production.incidents.incident import Day, Incident
from sim.analysis.production.metering import Counts
from sim.analysis.production.report import Expectation, FurnaceReport, Idle, IncidentReport, StreamReport
from sim.analysis.production.stuck import stuck_in
from sim.analysis.production.supply import SECONDS_A_MINUTE, refill_minutes
from sim.errors import InputError, nearest
from sim.world.geometry import Cell
from sim.world.items.furnace import FEED, FUEL, PRODUCT
from sim.world.layout import Layout
from sim.world.rulebook import Rules, default_rules
from sim.world.world import Finding

HOURS: Final = 2.0
SETTLED_BY: Final = 4
"""The last hour of a run whose output is looked at."""
SETTLED: Final = Fraction(1, 100)
"""Share by which the output of two hours may differ when nothing changes any more."""
Told = Callable[[str], None]


def incidents_named(names: Sequence[str] = ()) -> tuple[type[Incident], ...]:
    """The incidents of those names (default: all but those that must be asked for), each once, in their usual order;
    those that have a name in common also by their own. Raises InputError for others."""
    known = [*INCIDENTS, *(kind.name for kinds in INCIDENTS.values() for kind in kinds)]
    for name in names:
        if name not in known:
            raise InputError(f'there is no incident "{name}"; {nearest(name, INCIDENTS)}', file="--incident")
    asked = names or [name for name in INCIDENTS if name not in WHEN_ASKED_FOR]
    return tuple(
        kind for name, kinds in INCIDENTS.items() for kind in kinds if name in asked or kind.name in asked
    )


def production_run(
    layout: Layout,
    rules: Rules | None = None,
    hours: float = HOURS,
    incidents: Sequence[str] = (),
    *,
    furnace: Cell | None = None,
    refill: int | None = None,
    told: Told = lambda _: None,
    stop: threading.Event | None = None,
) -> list[IncidentReport]:
    """A report for each incident (default: all); fewer when ``stop`` is set on the way.

    ``hours`` of world time; ``refill``: minutes between visits (default: so that no bin runs dry); ``furnace``: the one
    that is taken away. Raises InputError where the layout is no hall. Time: about a second for an hour of a large hall.
    """
    hall = Hall(layout, rules or default_rules(), furnace)
    found = []
    for kind in incidents_named(incidents):
        report = run_incident(hall, kind, hours, refill, told, stop)
        if report is None:
            break
        found.append(report)
    return found


def steady_output(layout: Layout, rules: Rules | None = None, hours: float = HOURS) -> Fraction:
    """Products that come to the product bins, items an hour after warm-up, when nothing goes wrong."""
    (report,) = production_run(layout, rules, hours, ("steady",))
    return report.output


def settled_output(layout: Layout, rules: Rules | None = None) -> Fraction:
    """The same of the first hour that brings what the furnaces can make, or about as much as the one before; or of hour
    ``SETTLED_BY``.

    Where product waits while rows first fill, the first hours bring less, or more, than those that follow.
    """
    (first,) = production_run(layout, rules, 1.0, ("steady",))
    came, output, before = first.came, first.output, Fraction(0)
    for hours in range(2, SETTLED_BY + 1):
        if output == first.bound.per_hour or abs(output - before) <= before * SETTLED:
            break
        (report,) = production_run(layout, rules, float(hours), ("steady",))
        before = output
        came, output = report.came, Fraction(report.came - came)
    return min(output, first.bound.per_hour)  # an hour may bring what waited, too


def run_incident(
    hall: Hall,
    kind: type[Incident],
    hours: float,
    refill: int | None = None,
    told: Told = lambda _: None,
    stop: threading.Event | None = None,
) -> IncidentReport | None:
    """One incident from beginning to end; None when ``stop`` was set on the way."""
    ticks = round(hours * 3600 * hall.rules.ticks_per_second)
    every = refill or refill_minutes(hall.layout, hall.base)
    incident, floor = kind(hall, ticks), Floor(hall.tables)
    samples: list[Sample] = []
    incident.begin(floor)
    for tick, visit in checkpoints(hall.rules, ticks, every, incident.moments):
        if stop is not None and stop.is_set():
            return None
        floor.advance_to(tick)
        samples.append(floor.sample())
        if tick < ticks:
            if visit:
                incident.visit(floor)
            incident.look(floor)
        told(f"{incident.name}: {tick / (3600 * hall.rules.ticks_per_second):.2f} of {hours:g} hours")
    return report_of(hall, incident, Day(hall, floor, samples), every)


def checkpoints(rules: Rules, ticks: int, every: int, moments: Sequence[int]) -> Iterator[tuple[int, bool]]:
    """Each minute, each moment and the end, ascending; True where hands come round: after each ``every`` minutes."""
    minute = SECONDS_A_MINUTE * rules.ticks_per_second
    stops = {*range(minute, ticks, minute), *(one for one in moments if 0 < one < ticks), ticks}
    for tick in sorted(stops):
        yield tick, tick % (minute * every) == 0


def report_of(hall: Hall, incident: Incident, day: Day, every: int) -> IncidentReport:
    """What was seen, as a report."""
    floor, warm, end = day.floor, day.warm(), day.samples[-1]
    balance = balance_of(floor)
    lost = [one for one in balance if one.lost]
    told = "; but " + ", ".join(f"{one.lost} {one.kind}" for one in lost) if lost else ""
    kept = Expectation(f"nothing is lost{told}", not lost)
    bins = hall.product_bins
    after = sum(end.came[cell] - warm.came[cell] for cell in bins)
    span = end.tick - warm.tick
    overheated = floor.run.overheated().items()
    return IncidentReport(
        name=incident.name,
        about=incident.about,
        ticks=end.tick,
        warm_up=warm.tick,
        refill_minutes=every,
        came=sum(end.came[cell] for cell in bins),
        output=Fraction(after * 3600 * hall.rules.ticks_per_second, span) if span else Fraction(0),
        bounds=hall.bounds,
        balance=balance,
        furnaces=tuple(_furnace_report(day, warm, row) for row in range(len(floor.furnaces))),
        streams=_stream_reports(hall, floor),
        lines=hall.lines,
        stuck=stuck_in(hall, floor.run.tables.layout, floor.contents()),
        events=tuple(floor.events),
        findings=tuple(Finding("overheats", "an inverter overheats", at, tick) for at, tick in overheated),
        expectations=(kept, *incident.expectations(day)),
    )


def _furnace_report(day: Day, warm: Sample, row: int) -> FurnaceReport:
    floor, meters = day.floor, day.floor.meters[row]
    cell = floor.furnaces[row]
    gone = floor.gone.get(cell)
    end = floor.tick if gone is None else gone
    slots = floor.contents().get(cell, (None, None, None))
    left = {slot: held[1] if (held := slots[slot]) is not None else 0 for slot in (FEED, FUEL, PRODUCT)}
    return FurnaceReport(
        at=cell,
        fired=int(meters[m.FIRED]),
        lit=int(meters[m.LIT]),
        whole=_idle(meters, end),
        after=_idle(meters - warm.meters[row], max(0, end - warm.tick)),
        longest=int(meters[m.LONGEST]),
        feed_left=left[FEED],
        fuel_left=left[FUEL],
        product_left=left[PRODUCT],
        gone_at=gone,
    )


def _idle(meter: Counts, ticks: int) -> Idle:
    return Idle(ticks, int(meter[m.NO_FEED]), int(meter[m.BLOCKED]), int(meter[m.FULL]), int(meter[m.NO_FUEL]))


def _stream_reports(hall: Hall, floor: Floor) -> tuple[StreamReport, ...]:
    delivered = floor.delivered()
    return tuple(
        StreamReport(
            one.stream.name, one.role, one.stream.item, one.stream.outputs,
            tuple(delivered[one.stream.name, cell] for cell in one.stream.outputs),
        )
        for one in hall.inlets
    )
