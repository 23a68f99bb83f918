"""``splitwright-shift/1``: what production runs came to, as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any, Final

from sim.analysis.production.bounds import Bound
from sim.analysis.production.hall import Hall
from sim.analysis.production.lines import ProductLine
from sim.analysis.production.report import FurnaceReport, Idle, IncidentReport, StreamReport
from sim.world.trial_json import finding_document

FORMAT: Final = "splitwright-shift/1"


def shift_document(hall: Hall, reports: Sequence[IncidentReport], *, hours: float, complete: bool) -> dict[str, Any]:
    """The document of the reports. ``complete``: every incident that was asked for is among them."""
    return {
        "format": FORMAT,
        "hours": hours,
        "complete": complete,
        "bounds": [_bound(one) for one in hall.bounds],
        "lines": [_line(line) for line in hall.lines],
        "findings": list(hall.findings),
        "incidents": [incident_document(one) for one in reports],
    }


def incident_document(report: IncidentReport) -> dict[str, Any]:
    """One incident; rates as numbers, items an hour of world time."""
    return {
        "name": report.name,
        "about": report.about,
        "passed": report.passed,
        "ticks": report.ticks,
        "warm_up": report.warm_up,
        "refill_minutes": report.refill_minutes,
        "products": report.came,
        "output_per_hour": _number(report.output),
        "bound_per_hour": _number(report.bound.per_hour),
        "spread": report.spread,
        "jain": float(report.jain),
        "fires_lit": report.lit,
        "fuel_left": report.fuel_left,
        "expectations": [{"text": one.text, "met": one.met} for one in report.expectations],
        "balance": [
            {
                "item": one.kind, "at_start": one.at_start, "put_in": one.put_in, "made": one.made,
                "taken_out": one.taken_out, "fired": one.fired, "burnt": one.burnt, "inside": one.inside,
                "lost": one.lost,
            }
            for one in report.balance
        ],
        "furnaces": [_furnace(one) for one in report.furnaces],
        "streams": [_stream(one) for one in report.streams],
        "stuck": [{"what": one.what, "at": list(one.at), "text": one.text} for one in report.stuck],
        "events": [{"tick": one.tick, "text": one.text} for one in report.events],
        "findings": [finding_document(one) for one in report.findings],
    }


def _number(value: Fraction) -> int | float:
    return int(value) if value.denominator == 1 else float(value)


def _bound(bound: Bound) -> dict[str, Any]:
    return {"what": bound.what, "per_hour": _number(bound.per_hour), "formula": bound.formula}


def _line(line: ProductLine) -> dict[str, Any]:
    return {
        "furnaces": [list(cell) for cell in line.furnaces],
        "nodes": [list(cell) for cell in line.nodes],
        "bins": [list(cell) for cell in line.bins],
        "dead_ends": [list(cell) for cell in line.dead_ends],
        "into": [list(cell) for cell in line.into],
        "rate_per_hour": _number(line.rate),
    }


def _furnace(one: FurnaceReport) -> dict[str, Any]:
    return {
        "at": list(one.at), "fired": one.fired, "lit": one.lit, "idle": _idle(one.whole),
        "idle_after_warm_up": _idle(one.after), "longest_idle": one.longest, "feed_left": one.feed_left,
        "fuel_left": one.fuel_left, "product_left": one.product_left, "gone_at": one.gone_at,
    }


def _idle(idle: Idle) -> dict[str, Any]:
    return {
        "ticks": idle.ticks, "share": float(idle.share), "no_feed": idle.no_feed, "blocked": idle.blocked,
        "full": idle.full, "no_fuel": idle.no_fuel,
    }


def _stream(one: StreamReport) -> dict[str, Any]:
    return {
        "name": one.name, "role": one.role, "item": one.item, "outputs": [list(cell) for cell in one.outputs],
        "delivered": list(one.delivered), "spread": one.spread, "jain": float(one.jain),
    }
