"""What a working shift came to, for people: tables, what is stuck, and one sentence."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final

from rich.console import RenderableType
from rich.table import Table

from sim.analysis.production.hall import Hall
from sim.analysis.production.report import FurnaceReport, IncidentReport
from sim.world.files.places import counted, printable
from sim.world.geometry import cell_text
from splitwright.cli.tables import plain_table
from splitwright.cli.trial_report import index_text, seconds

ROWS_MOST: Final = 24
"""Furnaces that are listed one by one, and things that are stuck."""


def shift_report(
    hall: Hall, reports: Sequence[IncidentReport], hours: float, *, complete: bool, quiet: bool, verbose: bool = False
) -> Iterator[RenderableType]:
    """The answer (``quiet``: that alone), a row an incident, then the tables of those that did not go as they should;
    ``verbose``: of every one, and the bounds."""
    yield _sentence(hall, reports, complete)
    if quiet:
        return
    ran = f"{counted(len(reports), 'run')} of {hours:g} h of world time each"
    yield f"This holds for {ran}, the layout's update order and handover {hall.rules.handover}."
    if is_a_split(hall):
        yield "How a split by itself goes: splitwright assure FILE; a hall with fuel and product: propose, with [hall]."
    if verbose or not is_a_split(hall):
        yield from (printable(f"Finding: {text}.") for text in hall.findings)
    if reports:
        yield ""
        yield _summary_table(reports)
        if any(report.output > report.bound.per_hour > 0 for report in reports):
            yield "More than 100 % of the bound: what was on its way when counting began came out, too."
    shown = [report for report in reports if verbose or not (report.passed or is_a_split(hall))]
    for report in shown:
        yield ""
        yield from _incident(hall, report)
    if verbose:
        yield ""
        yield _bounds_table(hall)
        yield ""
        for line in hall.lines:
            yield printable(f"The product line of {counted(len(line.furnaces), 'furnace')} {line.ends_text}.")
    elif len(shown) < len(reports):
        yield ""
        yield "Every furnace, stream and bound of every run: -v"


def is_a_split(hall: Hall) -> bool:
    """No fuel comes to the furnaces and no node takes away what they make: nothing of a shift can go as it should."""
    return not hall.lines and all(bound.per_hour == 0 for bound in hall.bounds if bound.what == "fuel rows")


def _rate(value: Fraction) -> str:
    """Items an hour, to one place."""
    return f"{int(value):,}" if value.denominator == 1 else f"{float(value):,.1f}"


def _percent(share: Fraction) -> str:
    return f"{float(share) * 100:.1f} %"


def _bounds_table(hall: Hall) -> Table:
    table = plain_table("bound", "products an hour", "formula", right=("products an hour",))
    for bound in hall.bounds:
        table.add_row(bound.what, _rate(bound.per_hour), bound.formula)
    return table


def _incident(hall: Hall, report: IncidentReport) -> Iterator[RenderableType]:
    """One incident: what was expected, furnaces, streams, the account, what is stuck."""
    yield printable(f"{report.name}: {report.about}")
    for event in report.events:
        yield printable(f"  tick {event.tick:,} ({seconds(event.tick, hall.rules)} s): {event.text}")
    for one in report.expectations:
        yield printable(f"  {'yes' if one.met else 'NO'}: {one.text}")
    for stuck in report.stuck[:ROWS_MOST]:
        yield printable(f"  stuck: {stuck.text}")
    if len(report.stuck) > ROWS_MOST:
        yield f"  stuck: and {len(report.stuck) - ROWS_MOST} more"
    for finding in report.findings:
        yield printable(f"  finding: {finding.text}")
    yield ""
    yield _furnaces_table(report)
    yield ""
    yield _streams_table(report)
    yield ""
    yield _balance_table(report)


def _furnaces_table(report: IncidentReport) -> Table:
    reasons = ("no feed", "no fuel", "blocked", "full")
    numbers = ("fired", "fires", "idle", "after warm-up", *reasons, "longest", "fuel left")
    table = plain_table("furnace", *numbers, right=numbers)
    for one in _shown(report):
        table.add_row(
            cell_text(one.at) + (" (gone)" if one.gone_at is not None else ""),
            f"{one.fired:,}", f"{one.lit:,}", _percent(one.whole.share), _percent(one.after.share),
            *(f"{ticks:,}" for ticks in (one.after.no_feed, one.after.no_fuel, one.after.blocked, one.after.full)),
            f"{one.longest:,}", str(one.fuel_left),
        )  # fmt: skip
    if len(report.furnaces) > ROWS_MOST:
        table.add_row(f"and {len(report.furnaces) - ROWS_MOST} more")
    return table


def _shown(report: IncidentReport) -> list[FurnaceReport]:
    """The furnaces that are listed: those that stood idle most first, where there are too many."""
    if len(report.furnaces) <= ROWS_MOST:
        return list(report.furnaces)
    return sorted(report.furnaces, key=lambda one: -one.after.idle)[:ROWS_MOST]


def _streams_table(report: IncidentReport) -> Table:
    table = plain_table("stream", "for", "delivered", "spread", "Jain's index", right=("spread", "Jain's index"))
    for one in report.streams:
        most = one.delivered[:ROWS_MOST]
        shares = " / ".join(map(str, most)) + (" ..." if len(one.delivered) > ROWS_MOST else "")
        name = printable(f"{one.name} ({one.item})")
        table.add_row(name, one.role, shares, str(one.spread), index_text(one.jain))
    return table


def _balance_table(report: IncidentReport) -> Table:
    numbers = ("at start", "put in", "made", "taken out", "fired", "burnt", "inside", "lost")
    table = plain_table("item", *numbers, right=numbers)
    for one in report.balance:
        counts = (one.at_start, one.put_in, one.made, one.taken_out, one.fired, one.burnt, one.inside, one.lost)
        table.add_row(printable(one.kind), *(f"{count:,}" for count in counts))
    return table


def _summary_table(reports: Sequence[IncidentReport]) -> Table:
    rates = ("products an hour", "of the bound")
    numbers = (*rates, "fired, spread", "Jain's index", "fires", "fuel left", "starved", "lost")
    table = plain_table("incident", "as it should", *numbers, "stuck", right=(*numbers, "stuck"))
    for one in reports:
        bound = one.bound.per_hour
        table.add_row(
            one.name,
            "yes" if one.passed else "NO",
            _rate(one.output),
            _percent(one.output / bound) if bound else "",
            str(one.spread),
            index_text(one.jain),
            f"{one.lit:,}",
            f"{one.fuel_left:,}",
            str(len(one.starved)),
            str(one.lost),
            str(len(one.stuck)),
        )
    return table


def _sentence(hall: Hall, reports: Sequence[IncidentReport], complete: bool) -> str:
    """The answer in one line."""
    stopped = "" if complete else "; stopped by Ctrl-C before all were run"
    failed = [one.name for one in reports if not one.passed]
    found = f"{counted(len(hall.findings), 'finding')}" if hall.findings else ""
    if not reports:
        return f"No answer: no run came to its end{stopped}."
    if is_a_split(hall):
        return f"Not a hall: it is a split, with no fuel for its furnaces and no way out for what they make{stopped}."
    count = len(reports) - len(failed)
    went = f"{count} of {counted(len(reports), 'run')} went as {'it' if count == 1 else 'they'} should"
    if failed:
        return f"Not as it should: {', '.join(failed)} ({went}){f'; {found}' if found else ''}{stopped}."
    if found:
        return f"Not as it should: {found}, though {went}{stopped}."
    if not complete:
        return f"No answer yet: {went}{stopped}."
    steady = next((one for one in reports if one.bound.per_hour), reports[0])
    made = f", {_rate(steady.output)} products an hour in {steady.name}"
    every = f"any of {len(reports)} runs, and each went as its incident allows" if len(reports) > 1 else "the run"
    return f"As it should: nothing is lost in {every}{made}."
