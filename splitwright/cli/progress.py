"""Progress of long work, on standard error, for whoever watches a terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic
from typing import Final

from rich.console import Console
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

from sim.world.world import World
from splitwright.cli.output import stderr_is_terminal

EVERY: Final = 256
"""Ticks worked through between two looks at the clock."""
PATIENCE_S: Final = 0.5
"""Seconds of work before anything is shown."""


@contextmanager
def line_progress(quiet: bool) -> Iterator[Callable[[str], None]]:
    """Shows the line that it is called with, and the time, on a terminal; nothing anywhere else."""
    if quiet or not stderr_is_terminal():
        yield lambda _: None
        return
    columns = [SpinnerColumn("line"), TimeElapsedColumn(), TextColumn("{task.description}", markup=False)]
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("starting", total=None)
        yield lambda line: progress.update(task, description=line)


@contextmanager
def tick_progress(quiet: bool, ticks: int | None) -> Iterator[Callable[[World], None]]:
    """A watcher that shows the tick a trial has come to; it does nothing when ``quiet`` or with no terminal to see it.

    ``ticks``: where the run will end, if that is known.
    """
    if quiet or not stderr_is_terminal():
        yield lambda _: None
        return
    columns = [SpinnerColumn(), TextColumn("tick {task.completed:,.0f}"), BarColumn(), TimeElapsedColumn()]
    progress = Progress(*columns, console=Console(stderr=True), transient=True)
    task = progress.add_task("trial", total=ticks)
    began, calls = monotonic(), 0

    def watch(world: World) -> None:
        nonlocal calls
        calls += 1
        if calls % EVERY == 0 and monotonic() - began > PATIENCE_S:
            progress.start()  # once started, it stays so
            progress.update(task, completed=world.tick)

    try:
        yield watch
    finally:
        progress.stop()
