"""``splitwright trial``: simulate a layout under a load."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from sim.errors import InputError
from sim.world.files.places import printable
from sim.world.files.reading import load_layout
from sim.world.files.writing import streamed_file
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.trial import Arrival, Trial, TrialResult, Watcher
from sim.world.trial_json import trial_document
from sim.world.waves import WaveWriter
from splitwright.cli.explaining import explained, explanation_document, explanation_lines
from splitwright.cli.failures import DONE, NO, NO_ANSWER
from splitwright.cli.interrupt import Interrupted, Interruption
from splitwright.cli.options import AsJson, LayoutFile, Quiet, Verbose, whole_number
from splitwright.cli.output import complain, emit_json, show
from splitwright.cli.output_files import check_output
from splitwright.cli.progress import tick_progress
from splitwright.cli.trial_input import (
    CaseFile,
    Every,
    Handover,
    Load,
    Order,
    Task,
    check_alone,
    task_of_case,
    task_of_options,
)
from splitwright.cli.trial_report import case_note, holds_for, trial_tables, verdict
from splitwright.cli.turned_nodes import turned_nodes
from splitwright.commands.trial.next_step import next_steps

if TYPE_CHECKING:
    from sim.analysis.mishap import Mishap

EXAMPLE: Final = "Example: splitwright trial kilns.plan --load feed=54 --waves kilns.vcd"
TICKS_MOST: Final = 1_000_000_000
"""Largest number of ticks that can be asked for: a bound on work."""
LIMIT_TICKS: Final = 20_000_000
"""Ticks after the last arrival at which a run that neither rests nor repeats is given up."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a trial ended. ``interrupted``: by Ctrl-C; the result is the state at the end of that tick."""

    result: TrialResult
    interrupted: bool = False


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
    case: CaseFile = None,
    waves: Waves = None,
    as_json: AsJson = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> int:
    """Simulate a layout: what is delivered where, and is it even? Where not: the tick and the place it went wrong.

    Exit status: 0 even; 1 uneven (also where the number cannot be shared out), nothing delivered of a load, or
    findings; 2 bad input; 3 no answer: stopped by
    Ctrl-C, or it neither came to rest nor repeated itself within 20,000,000 ticks after the last arrival.
    """
    check_alone(case, {"--load": load, "--every": every, "--order": order, "--handover": handover})
    known = load_layout(layout)
    if case is not None:
        task = task_of_case(known, case)
    else:
        task = task_of_options(known, layout, load or [], every, order, handover)
    check_output("--waves", waves, (".vcd",), {"layout": layout, "case": case, "order": order})
    try:
        outcome = tried(task.layout, task.arrivals, ticks=ticks, order=task.order, waves=waves, quiet=quiet)
    except InputError as error:
        raise error.within(str(task.stated_in)) from None
    if not as_json:
        _print(task, outcome, layout, ticks, quiet, verbose)
    else:
        why = explanation_document(_explained(task, outcome, ticks))
        emit_json({**trial_document(outcome.result), **({"explanation": why} if why else {})})
        if outcome.result.stopped:
            complain(verdict(outcome.result, task.circumstances, interrupted=outcome.interrupted))
    if _ran_to_its_end(outcome.result, ticks):
        _tell_of_case(outcome.result, task, silent=as_json or quiet)
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
    """No answer when stopped; no when uneven, when nothing came of a load, or with findings; else done."""
    result = outcome.result
    if result.stopped:
        return NO_ANSWER
    return NO if result.outcome in ("uneven", "nothing") or result.findings else DONE


def _ran_to_its_end(result: TrialResult, ticks: int | None) -> bool:
    """At rest, or found never to rest; not stopped and not cut short by ``--ticks``."""
    return not result.stopped and (ticks is None or result.at_rest)


def _tell_of_case(result: TrialResult, task: Task, *, silent: bool) -> None:
    """Whether it came to what the case says: a mismatch on standard error, else a line unless ``silent``."""
    note = case_note(result, task.case, task.stated_in) if task.case is not None else None
    if note is None:
        return
    as_said, text = note
    if not as_said:
        complain(text)
    elif not silent:
        show(text)


def _explained(task: Task, outcome: Outcome, ticks: int | None) -> tuple[Mishap, ...]:
    return explained(task.layout, task.arrivals, task.order, ticks, outcome.result)


def _print(task: Task, outcome: Outcome, path: Path, ticks: int | None, quiet: bool, verbose: bool) -> None:
    """The answer (``quiet``: that alone), what it holds for, what to do next, and then what came of it in tables."""
    result = outcome.result
    show(verdict(result, task.circumstances, interrupted=outcome.interrupted))
    if quiet:
        return
    if result.streams:
        show(holds_for(result, task.circumstances))
    if task.case is not None and task.case.text:
        show(f"The case says: {printable(task.case.text)}")
    steps = next_steps(task, result, path, ticks)
    if result.outcome in ("uneven", "nothing"):
        show(*turned_nodes(task.layout))  # what bars the way comes before the lock that let another output get ahead
    if verbose or not steps.waits:
        show(*explanation_lines(_explained(task, outcome, ticks)))
    show(*steps.lines)
    for table in trial_tables(task.layout, result, task.circumstances, verbose):
        show("", table)
