"""Node-turns a second of the simulator against a SimPy model of the same rows, in one run.

    python -m benchmarks.simulator [--json] [--seconds 2]

A node-turn is one node in one tick of world time, whether the simulator worked through that tick or passed over it.
The result is the ratio: both sides run in turns in one process, so that a busy machine slows both. Before anything
is timed, both must agree on the tick in which every single item enters every container.
"""

from __future__ import annotations

import json
import os
import platform
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Annotated, Any

import simpy
import typer
from rich.console import Console
from rich.table import Table

from sim.errors import InputError
from sim.files.reading import load_layout
from sim.geometry import Cell
from sim.layout import Layout
from sim.parts import Gauge, Inverter, Relay
from sim.trial import Arrival, Trial, arrivals_for
from sim.world import World
from tests.outside.rows import Model, burst_row_layout, burst_row_model

TARGETS = (3, 8, 32)
LOAD_PER_TARGET = 18
LAYOUTS = Path(__file__).resolve().parent.parent / "specs" / "layouts"
TICK_LIMIT = 20_000


@dataclass(frozen=True)
class Figure:
    """One layout's figures. Times are the processor's, in seconds, the median of ``runs``; no SimPy model: None."""

    layout: str
    nodes: int
    signal_parts: int
    items: int
    ticks: int
    ticks_worked: int
    turns: int
    turns_worked: int
    runs: int
    simulator_seconds: float
    simulator_turns_a_second: float
    simpy_seconds: float | None = None
    simpy_turns_a_second: float | None = None
    ratio: float | None = None


def main(
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
    seconds: Annotated[float, typer.Option(min=0.1, max=6, help="Time for each row, in seconds.")] = 2,
) -> None:
    """Time the simulator against SimPy on burst rows of 3, 8 and 32 targets, and alone on the layouts in specs."""
    try:
        rows = [row_figure(targets, seconds) for targets in TARGETS]
    except Disagreement as error:
        sys.exit(f"simulator and SimPy model disagree: {error}")  # status 1, from `python -m benchmarks` as well
    files = sorted(LAYOUTS.glob("*.plan")) + sorted(LAYOUTS.glob("*.json"))
    alone = [figure for path in files if (figure := file_figure(path, seconds / 8)) is not None]
    if as_json:
        document = {"format": "splitwright-benchmark-simulator/1", "machine": machine()}
        document |= {"rows": [asdict(f) for f in rows], "layouts": [asdict(f) for f in alone]}
        print(json.dumps(document, indent=1))
    else:
        show(rows, alone)


class Disagreement(Exception):
    """The two sides do not do the same, so their speeds cannot be compared."""


def row_figure(targets: int, seconds: float) -> Figure:
    """Both sides on one burst row, checked item by item and then timed in turns."""
    layout = burst_row_layout(targets)
    loads = [Arrival(0, "feed", LOAD_PER_TARGET * targets)]
    check_same_items(layout, burst_row_model(targets), loads)
    times: list[tuple[float, float]] = []
    for _ in rounds(seconds):
        trial, model = Trial(layout), burst_row_model(targets)
        times.append((timed(lambda t=trial: t.run(loads)), timed(lambda m=model: run_model(m, loads))))
    ours, theirs = (statistics.median(side) for side in zip(*times, strict=True))
    ratio = statistics.median(b / a for a, b in times)
    name = f"row of {targets}"
    return figure(name, layout, loads, len(times), ours, theirs, ratio)


def file_figure(path: Path, seconds: float) -> Figure | None:
    """The simulator alone on a layout file with its default loads; None for one without live signals or movement."""
    try:
        layout = load_layout(path)
        loads = arrivals_for(layout)
        result = Trial(layout).run(loads, limit=TICK_LIMIT)
    except InputError as error:
        print(f"left out: {error}", file=sys.stderr)
        return None
    if not result.tick or not any(isinstance(part, (Inverter, Relay, Gauge)) for part in layout.parts):
        return None
    times = []
    for _ in rounds(seconds):
        trial = Trial(layout)
        times.append(timed(lambda t=trial: t.run(loads, limit=TICK_LIMIT)))
    return figure(path.stem, layout, loads, len(times), statistics.median(times))


def figure(
    name: str,
    layout: Layout,
    loads: list[Arrival],
    runs: int,
    ours: float,
    theirs: float | None = None,
    ratio: float | None = None,
) -> Figure:
    """The figures of a layout that took ``ours`` and ``theirs`` seconds a run."""
    worked = 0

    def count(world: World) -> None:
        nonlocal worked
        worked += world.tick > 0

    trial = Trial(layout, watchers=[count])
    ticks = trial.run(loads, limit=TICK_LIMIT).tick
    nodes = len(trial.world.nodes)
    turns = nodes * ticks
    return Figure(
        layout=name,
        nodes=nodes,
        signal_parts=len(trial.world.field.wiring.parts),
        items=sum(load.count for load in loads),
        ticks=ticks,
        ticks_worked=worked,
        turns=turns,
        turns_worked=nodes * worked,
        runs=runs,
        simulator_seconds=ours,
        simulator_turns_a_second=turns / ours,
        simpy_seconds=theirs,
        simpy_turns_a_second=None if theirs is None else turns / theirs,
        ratio=ratio,
    )


def check_same_items(layout: Layout, model: Model, loads: list[Arrival]) -> None:
    """Raise Disagreement unless every item enters every container in the same tick on both sides."""
    entries: dict[Cell, list[int]] = {cell: [] for cell in model.containers}
    trial = Trial(layout)
    trial.world.entered = lambda tick, cell, kind: entries[cell].append(tick)
    trial.run(loads)
    run_model(model, loads)
    for cell, container in model.containers.items():
        if container.entered != entries[cell]:
            raise Disagreement(f"{layout.title}, at {cell}: {entries[cell][:5]}... and {container.entered[:5]}...")


def run_model(model: Model, loads: list[Arrival]) -> None:
    model.world.run(model.source, [(load.tick, load.count) for load in loads])


def rounds(seconds: float) -> Iterator[int]:
    """Counts up for about so long, three times at least and 200 at most."""
    started, number = time.perf_counter(), 0
    while number < 3 or (number < 200 and time.perf_counter() - started < seconds):
        yield number
        number += 1


def timed(run: Callable[[], Any]) -> float:
    """Processor seconds of one call."""
    started = time.process_time()
    run()
    return time.process_time() - started


def machine() -> dict[str, Any]:
    """What the figures were taken on."""
    return {
        "python": f"{platform.python_implementation()} {platform.python_version()}",
        "platform": platform.platform(),
        "processor": platform.processor() or platform.machine(),
        "processors": os.cpu_count(),
        "simpy": simpy.__version__,
    }


def show(rows: list[Figure], alone: list[Figure]) -> None:
    """The figures as tables."""
    console = Console()
    against = table("Simulator against SimPy, thousands of node-turns a second", "SimPy", "ratio")
    for f in rows:
        against.add_row(*cells(f), thousands(f.simpy_turns_a_second or 0), f"{f.ratio:.2f}")
    console.print(against)
    if alone:
        on_files = table("Simulator alone on layouts in specs, thousands of node-turns a second")
        for f in alone:
            on_files.add_row(*cells(f))
        console.print(on_files)
    console.print("worked: ticks that the simulator did not pass over", soft_wrap=True)
    console.print("ratio: how many times as fast as the SimPy model (median over pairs of runs)", soft_wrap=True)
    console.print(", ".join(f"{key}: {value}" for key, value in machine().items()), soft_wrap=True, highlight=False)


def table(title: str, *more: str) -> Table:
    """A table with the columns that every layout has."""
    made = Table(title=title, title_justify="left")
    made.add_column("layout", overflow="fold")
    for column in ("nodes", "items", "ticks", "worked", "simulator", *more):
        made.add_column(column, justify="right", no_wrap=True)
    return made


def cells(f: Figure) -> list[str]:
    """The cells of those columns."""
    counts = (f.nodes, f.items, f.ticks, f.ticks_worked)
    return [f.layout, *map(str, counts), thousands(f.simulator_turns_a_second)]


def thousands(turns_a_second: float) -> str:
    return f"{turns_a_second / 1000:,.0f}"


if __name__ == "__main__":
    typer.run(main)
