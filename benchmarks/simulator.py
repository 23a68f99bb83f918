"""Node-turns a second of the simulator and of the compiled kernel against a SimPy model of the same rows, in one run.

    python -m benchmarks.simulator [--json] [--seconds 2] [--no-start-up]

A node-turn is one node in one tick of world time, whether it was worked through or passed over. The result is the
ratio: all sides run in turns in one process, so that a busy machine slows all. Before anything is timed, simulator
and model must agree on the tick in which every single item enters every container, and the kernel on that in which it
enters an output.
"""

from __future__ import annotations

import json
import os
import platform
import statistics
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Annotated, Any

import numba
import simpy
import typer
from rich.console import Console
from rich.table import Table

from benchmarks import kernel
from sim.errors import InputError
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Relay
from sim.world.trial import Arrival, Trial, arrivals_for
from sim.world.world import World
from tests.outside.rows import Model, burst_row_layout, burst_row_model

TARGETS = (3, 8, 32)
LOAD_PER_TARGET = 18
LAYOUTS = Path(__file__).resolve().parent.parent / "specs" / "layouts"
TICK_LIMIT = kernel.TICK_LIMIT
KERNEL_SECONDS = 0.1
"""About how long one batch of the kernel takes when it is timed."""
ORDERS_CHECKED = 4


@dataclass(frozen=True)
class Figure:
    """One layout's figures. Times are the processor's, in seconds, the median of ``runs``; no SimPy model: None.

    On two cores time is that on the wall, the best of three: a core that others use as well is no second core.
    """

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
    kernel_turns_a_second: float
    kernel_turns_a_second_on_two_cores: float
    simpy_seconds: float | None = None
    simpy_turns_a_second: float | None = None
    ratio: float | None = None
    kernel_ratio: float | None = None
    kernel_ratio_on_two_cores: float | None = None


def main(
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")] = False,
    seconds: Annotated[float, typer.Option(min=0.1, max=6, help="Time for each row, in seconds.")] = 2,
    start_up: Annotated[bool, typer.Option(help="Time a start of the kernel as well; half a minute.")] = True,
) -> None:
    """Time simulator and kernel against SimPy on burst rows of 3, 8 and 32 targets, and alone on layouts in specs."""
    try:
        rows = [row_figure(targets, seconds) for targets in TARGETS]
    except Disagreement as error:
        sys.exit(f"the sides disagree: {error}")  # status 1, from `python -m benchmarks` as well
    files = sorted(LAYOUTS.glob("*.plan")) + sorted(LAYOUTS.glob("*.json"))
    alone = [figure for path in files if (figure := file_figure(path, seconds / 8)) is not None]
    starts = kernel.start_up() if start_up else None
    if as_json:
        document = {"format": "splitwright-benchmark-simulator/2", "machine": machine()}
        document |= {"rows": [asdict(f) for f in rows], "layouts": [asdict(f) for f in alone]}
        print(json.dumps(document | {"kernel_start_up_seconds": starts}, indent=1))
    else:
        show(rows, alone, starts)


class Disagreement(Exception):
    """The two sides do not do the same, so their speeds cannot be compared."""


def row_figure(targets: int, seconds: float) -> Figure:
    """All sides on one burst row, checked item by item and then timed in turns."""
    layout = burst_row_layout(targets)
    loads = [Arrival(0, "feed", LOAD_PER_TARGET * targets)]
    check_same_items(layout, burst_row_model(targets), loads)
    batch = kernel.Batch(layout, loads)
    check_same_arrivals(batch, lambda: burst_row_model(targets), loads)
    times: list[tuple[float, float, float]] = []
    runs = batch.runs_for(KERNEL_SECONDS)
    for _ in rounds(seconds):
        trial, model = Trial(layout), burst_row_model(targets)
        ours = timed(lambda t=trial: t.run(loads))
        theirs = timed(lambda m=model: run_model(m, loads))
        times.append((ours, theirs, timed(lambda: batch.run(runs)) / runs))
    return figure(f"row of {targets}", batch, loads, times)


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
    batch = kernel.Batch(layout, loads)
    runs = batch.runs_for(KERNEL_SECONDS)
    times: list[tuple[float, float | None, float]] = []
    for _ in rounds(seconds):
        trial = Trial(layout)
        ours = timed(lambda t=trial: t.run(loads, limit=TICK_LIMIT))
        times.append((ours, None, timed(lambda: batch.run(runs)) / runs))
    return figure(path.stem, batch, loads, times)


def figure(
    name: str, batch: kernel.Batch, loads: list[Arrival], times: Sequence[tuple[float, float | None, float]]
) -> Figure:
    """The figures of a layout. ``times``: seconds a run of the simulator, the SimPy model (if any) and the kernel."""
    worked = 0

    def count(world: World) -> None:
        nonlocal worked
        worked += world.tick > 0

    trial = Trial(batch.tables.layout, watchers=[count])
    ticks = trial.run(loads, limit=TICK_LIMIT).tick
    nodes = len(trial.world.nodes)
    turns = nodes * ticks
    ours = statistics.median(a for a, _, _ in times)
    pairs = [(a, b, k) for a, b, k in times if b is not None]
    theirs = statistics.median(b for _, b, _ in pairs) if pairs else None
    kernel_turns = nodes * batch.ticks_a_run
    fast = statistics.median(k for _, _, k in times)
    runs = batch.runs_for(KERNEL_SECONDS * 4)
    on_two = max(batch.turns_a_second(kernel.CORES, runs) for _ in range(3))
    return Figure(
        layout=name,
        nodes=nodes,
        signal_parts=len(trial.world.field.wiring.parts),
        items=sum(load.count for load in loads),
        ticks=ticks,
        ticks_worked=worked,
        turns=turns,
        turns_worked=nodes * worked,
        runs=len(times),
        simulator_seconds=ours,
        simulator_turns_a_second=turns / ours,
        kernel_turns_a_second=kernel_turns / fast,
        kernel_turns_a_second_on_two_cores=on_two,
        simpy_seconds=theirs,
        simpy_turns_a_second=None if theirs is None else turns / theirs,
        ratio=statistics.median(b / a for a, b, _ in pairs) if pairs else None,
        kernel_ratio=statistics.median(kernel_turns / k / (turns / b) for _, b, k in pairs) if pairs else None,
        kernel_ratio_on_two_cores=None if theirs is None else on_two / (turns / theirs),
    )


def check_same_arrivals(batch: kernel.Batch, new_model: Callable[[], Model], loads: list[Arrival]) -> None:
    """Raise Disagreement unless kernel and model agree, in some update orders, on the tick in which every single item
    enters every output, and runs of a batch on the last one and on how many there are."""
    results = batch.results(ORDERS_CHECKED)
    for order, result in zip(batch.orders[:ORDERS_CHECKED], results, strict=True):
        model = new_model()
        run_model(model, loads, order)
        entries = kernel.arrivals_at_outputs(batch.tables.layout, loads, order)
        for cell, ticks in entries.items():
            if model.containers[cell].entered != ticks:
                raise Disagreement(f"kernel, at {cell}: {ticks[:5]}... and {model.containers[cell].entered[:5]}...")
        told = [int(n) for n in result[kernel.FIRST_OUTPUT :]]
        if told != [len(ticks) for ticks in entries.values()]:
            raise Disagreement(f"a batch of the kernel, in the order {order}: delivered {told}")


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


def run_model(model: Model, loads: list[Arrival], order: Sequence[Cell] | None = None) -> None:
    nodes = model.nodes
    turns = None if order is None else [nodes[cell] for cell in order if cell in nodes]
    model.world.run(model.source, [(load.tick, load.count) for load in loads], order=turns)


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
        "numba": numba.__version__,
    }


def show(rows: list[Figure], alone: list[Figure], starts: dict[str, float] | None) -> None:
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
    console.print(kernel_table([*rows, *alone]))
    console.print("worked: ticks that the simulator did not pass over", soft_wrap=True)
    console.print("ratio: how many times as fast as the SimPy model (median over pairs of runs)", soft_wrap=True)
    console.print("on two: two threads, by the clock on the wall; else processor time", soft_wrap=True)
    if starts is not None:
        cold, warm = starts["cache_empty"], starts["cache_filled"]
        text = f"kernel, from a new Python to the first result: {cold:.1f} s with an empty cache, {warm:.1f} s after"
        console.print(text, soft_wrap=True)
    console.print(", ".join(f"{key}: {value}" for key, value in machine().items()), soft_wrap=True, highlight=False)


def kernel_table(figures: list[Figure]) -> Table:
    """The kernel's figures; ratios where there is a SimPy model."""
    made = Table(title="Kernel, millions of node-turns a second", title_justify="left")
    made.add_column("layout", overflow="fold")
    for column in ("nodes", "one core", "on two", "ratio", "ratio on two"):
        made.add_column(column, justify="right", no_wrap=True)
    for f in figures:
        ratios = ["" if ratio is None else f"{ratio:.0f}" for ratio in (f.kernel_ratio, f.kernel_ratio_on_two_cores)]
        speeds = (f.kernel_turns_a_second, f.kernel_turns_a_second_on_two_cores)
        made.add_row(f.layout, str(f.nodes), *(f"{speed / 1e6:.1f}" for speed in speeds), *ratios)
    return made


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
