"""``splitwright shift``: a working shift of a hall: feed, fuel and product together, with what can go wrong."""

from __future__ import annotations

import re
import threading
from typing import TYPE_CHECKING, Annotated, Final

import typer

from sim.errors import InputError
from sim.world.files.places import shown
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.rulebook import default_rules
from splitwright.cli.background import in_background
from splitwright.cli.failures import DONE, NO, NO_ANSWER
from splitwright.cli.first_use import compiling_told
from splitwright.cli.options import AsJson, LayoutFile, Quiet, Verbose, whole_number
from splitwright.cli.output import emit_json, show
from splitwright.cli.progress import line_progress

if TYPE_CHECKING:
    from sim.analysis.production.report import IncidentReport

EXAMPLE: Final = "Example: splitwright shift hall.plan --hours 4 --incident steady --incident full-bin"
MINUTES_MOST: Final = 10_000
HOURS_LEAST: Final = 0.05
HOURS_MOST: Final = 200.0
"""Bounds on work; a run shorter than the least one is over before anything has been fired."""


def _hours(text: str | float) -> float:
    """Hours of world time. Raises InputError for anything else."""
    if re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,6})?", str(text)) and HOURS_LEAST <= float(text) <= HOURS_MOST:
        return float(text)
    raise InputError(f"must be a number from {HOURS_LEAST:g} to {HOURS_MOST:g}, not {shown(text)}", file="--hours")


def _cell(text: str) -> Cell:
    """A cell ``x,y,z``. Raises InputError for anything else."""
    if found := re.fullmatch(r"([0-9]{1,6}),([0-9]{1,6}),([0-9]{1,6})", text):
        return int(found[1]), int(found[2]), int(found[3])
    raise InputError(f"must be a cell x,y,z, as in 4,1,0, not {shown(text)}", file="--furnace")


Hours = Annotated[float, typer.Option("--hours", metavar="H", parser=_hours, help="Hours of world time of each run.")]
Incidents = Annotated[
    list[str] | None,
    typer.Option(
        "--incident",
        metavar="NAME",
        show_default="all",
        help="steady, fires-out, fuel-short, full-bin, furnace-gone or foreign-item; once for each that is to be run. "
        "Only when it is asked for: trickle (feed and fuel by and by, and for a while none).",
    ),
]
FurnaceCell = Annotated[
    str | None,
    typer.Option(
        "--furnace", metavar="X,Y,Z", show_default="the middle one", help="The furnace that furnace-gone takes away."
    ),
]
Refill = Annotated[
    int | None,
    typer.Option(
        "--refill",
        metavar="MINUTES",
        parser=whole_number("--refill", 1, MINUTES_MOST),
        show_default="so that no bin runs dry",
        help="Minutes between two visits, at which source bins are filled and product bins emptied.",
    ),
]


def shift(
    layout: LayoutFile,
    hours: Hours = 2.0,
    incident: Incidents = None,
    furnace: FurnaceCell = None,
    refill: Refill = None,
    as_json: AsJson = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> int:
    """A working shift of a hall: feed, fuel and product for hours, and what comes of it when something goes wrong.

    Each incident is a run of its own. Reported are whether anything is lost, what is stuck and how to clear it, what
    each furnace fired and why it stood idle, and the output against its bounds. Ctrl-C keeps the incidents so far.
    Exit status: 0 every incident came out as it should; 1 one did not, or product has no way into a bin; 2 bad input;
    3 stopped before all were run.
    """
    # the compiled kernel is loaded where it is used alone
    from sim.analysis.production.hall import Hall
    from sim.analysis.production.report_json import shift_document
    from sim.analysis.production.run import incidents_named, run_incident
    from splitwright.commands.shift.report import shift_report

    kinds = incidents_named(incident or ())
    gone = None if furnace is None else _cell(furnace)
    known = load_layout(layout)
    stop = threading.Event()
    reports: list[IncidentReport] = []
    try:
        hall = Hall(known, default_rules(), gone)
        with line_progress(quiet) as tell:

            def run_all() -> None:
                tell(compiling_told())
                for kind in kinds:
                    report = run_incident(hall, kind, hours, refill, tell, stop)
                    if report is None:
                        return
                    reports.append(report)

            in_background(run_all, stop)
    except InputError as error:
        raise error.within(str(layout)) from None
    complete = len(reports) == len(kinds)
    if as_json:
        emit_json(shift_document(hall, reports, hours=hours, complete=complete))
    else:
        show(*shift_report(hall, reports, hours, complete=complete, quiet=quiet, verbose=verbose))
    if hall.findings or not all(report.passed for report in reports):
        return NO
    return DONE if complete else NO_ANSWER
