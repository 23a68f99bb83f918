"""``splitwright trial``: simulate a layout under a load."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Final

import typer

from sim.errors import InputError
from sim.files.reading import load_layout
from sim.files.writing import streamed_file
from sim.geometry import Cell
from sim.layout import Layout
from sim.order_file import load_order
from sim.rulebook import MOST as RULE_MOST
from sim.rulebook import default_rules
from sim.trial import Arrival, Trial, TrialResult, Watcher, arrivals_for
from sim.trial_json import trial_document
from sim.waves import WaveWriter
from splitwright.failures import DONE, NO, NO_ANSWER
from splitwright.interrupt import Interrupted, Interruption
from splitwright.options import AsJson, LayoutFile, Quiet, loads_from, whole_number
from splitwright.output import complain, emit_json, show
from splitwright.progress import tick_progress
from splitwright.trial_report import Circumstances, trial_tables, verdict

EXAMPLE: Final = "Example: splitwright trial kilns.plan --load feed=54 --waves kilns.vcd"
LOAD_MOST: Final = 1_000_000
"""Largest load of a stream: a bound on work and memory."""
TICKS_MOST: Final = 1_000_000_000
"""Largest number of ticks that can be asked for: a bound on work."""
LIMIT_TICKS: Final = 20_000_000
"""Ticks after the last arrival at which a run that neither rests nor repeats is given up."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a trial ended. ``interrupted``: by Ctrl-C; the result is the state at the end of that tick."""

    result: TrialResult
    interrupted: bool = False


Load = Annotated[
    list[str] | None,
    typer.Option(
        "--load",
        metavar="NAME=N",
        show_default="18 a target",
        help="Items of a stream; once for each stream that is to get another number.",
    ),
]
Every = Annotated[
    int | None,
    typer.Option(
        "--every",
        metavar="G",
        parser=whole_number("--every", 1, RULE_MOST),
        show_default=False,
        help="One item before tick 1, then one after each G ticks, in place of all at once.",
    ),
]
Ticks = Annotated[
    int | None,
    typer.Option(
        "--ticks",
        metavar="T",
        parser=whole_number("--ticks", 0, TICKS_MOST),
        show_default="run to rest",
        help="Stop after this many ticks.",
    ),
]
Order = Annotated[
    Path | None,
    typer.Option(
        "--order",
        metavar="FILE",
        show_default="the order in the layout",
        help="Update order: one cell x,y,z a line, each node and furnace once.",
    ),
]
Handover = Annotated[
    int | None,
    typer.Option(
        "--handover",
        metavar="H",
        parser=whole_number("--handover", 1, RULE_MOST),
        show_default=False,
        help="Handover ticks (7 or 8 in known worlds), in place of the layout's or the rulebook's.",
    ),
]
Waves = Annotated[
    Path | None,
    typer.Option(
        "--waves", metavar="FILE.vcd", show_default=False, help="Write every change to a wave file (IEEE Std 1364)."
    ),
]


def trial(
    layout: LayoutFile,
    load: Load = None,
    every: Every = None,
    ticks: Ticks = None,
    order: Order = None,
    handover: Handover = None,
    waves: Waves = None,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """Simulate a layout: what is delivered where, and is it even?

    Exit status: 0 even; 1 uneven or findings; 2 bad input; 3 no answer: stopped by Ctrl-C, or it neither came to rest
    nor repeated itself within 20,000,000 ticks after the last arrival.
    """
    known = load_layout(layout)
    if handover is not None:
        known = replace(known, rules={**known.rules, "handover": handover})
    loads = loads_from(load or [], known, LOAD_MOST)
    turns = load_order(order, known) if order is not None else None
    if waves is not None:
        _check_waves(waves, layout)
    try:
        outcome = tried(known, arrivals_for(known, loads, every), ticks=ticks, order=turns, waves=waves, quiet=quiet)
    except InputError as error:
        raise error.within(str(layout)) from None
    circumstances = Circumstances.of(known, known.rules_in_force(default_rules()), loads, every, order)
    if not as_json:
        _print(known, outcome, circumstances, quiet)
    else:
        emit_json(trial_document(outcome.result))
        if outcome.result.stopped:
            complain(verdict(outcome.result, circumstances, interrupted=outcome.interrupted))
    return status_of(outcome)


def tried(
    layout: Layout,
    arrivals: list[Arrival],
    *,
    ticks: int | None,
    order: tuple[Cell, ...] | None,
    waves: Path | None,
    quiet: bool,
) -> Outcome:
    """Run the trial to rest (or ``ticks``, the limit, or Ctrl-C), with progress and wave file as asked.

    Raises InputError when a bin has no room for its load or the wave file cannot be written; none is left then.
    """
    run = Trial(layout, order=order)
    limit = LIMIT_TICKS + (arrivals[-1].tick if arrivals else 0)
    with ExitStack() as stack:
        watchers: list[Watcher] = []
        if waves is not None:
            writer = WaveWriter(stack.enter_context(streamed_file(waves)), run)
            watchers.append(writer)
        watchers.append(stack.enter_context(tick_progress(quiet, ticks)))
        interruption = stack.enter_context(Interruption())
        run.watchers = (*watchers, interruption.heed)
        try:
            outcome = Outcome(run.run(arrivals, ticks=ticks, limit=None if ticks is not None else limit))
        except Interrupted:
            outcome = Outcome(run.result(stopped=True), interrupted=True)
        if waves is not None:
            writer.close()
    return outcome


def status_of(outcome: Outcome) -> int:
    """No answer when stopped; no when uneven or with findings; else done."""
    result = outcome.result
    if result.stopped:
        return NO_ANSWER
    return DONE if result.is_even and not result.findings else NO


def _print(layout: Layout, outcome: Outcome, circumstances: Circumstances, quiet: bool) -> None:
    if not quiet:
        for table in trial_tables(layout, outcome.result, circumstances):
            show(table, "")
    show(verdict(outcome.result, circumstances, interrupted=outcome.interrupted))


def _check_waves(waves: Path, layout: Path) -> None:
    if waves.exists() and waves.samefile(layout):
        raise InputError("is the layout itself; name another file", file="--waves")
