"""What the exact search leaves out: relays and gauges that act on nothing, held against the simulator.

In random builds the clauses name such parts; a run without one is the same, cell by cell and tick by tick.
"""

from __future__ import annotations

import random
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from sim.errors import InputError
from sim.world.geometry import SIDES, Cell, step
from sim.world.layout import Layout
from sim.world.parts import Furnace, Gauge, Inverter, Line, Node, Relay, Support
from sim.world.trial import arrivals_for
from synth.model.plots import Plot, question_for, windows
from synth.model.vocabulary import EMPTY, FURNACE, LINE, SUPPORT, Kind, Vocabulary, gauge, inverter, relay, row_node
from synth.read.spec_file import load_spec
from synth.search.exact.needless import leave_out_needless
from synth.solving.cadical import Cadical
from worlds import Change, drawn, random_run, traced

SPEC = load_spec(Path(__file__).resolve().parent.parent / "specs" / "two-kilns.toml")
BUILDS = 60
OTHERS = 10
"""Builds in which the parts that are not named are taken away too: some of them are needed."""
MOST_TICKS = 300


def kind_of(layout: Layout, cell: Cell) -> Kind:
    """What the model calls the cell's content; a node by any number, a bin like an empty cell: nothing acts on one."""
    match layout.by_cell.get(cell):
        case Support():
            return SUPPORT
        case Furnace():
            return FURNACE
        case Line():
            return LINE
        case Inverter(mount=mount):
            return inverter(mount)
        case Relay(output=output):
            return relay(output)
        case Gauge(output=output):
            return gauge(output, 0, "head")
        case Node():
            return row_node(0, 1)
        case _:
            return EMPTY


def named(layout: Layout) -> list[Relay | Gauge]:
    """The parts of which a clause says that they must not stand there as they do."""
    spec = replace(SPEC, size=layout.size, scheme="burst row")
    v = Vocabulary(question_for(spec, Plot((0, 0, 0), layout.size), windows(spec, (8,))))
    there = [lit if kind == kind_of(layout, cell) else -lit for cell in v.cells for kind, lit in v.kind[cell].items()]
    words = len(v.clauses.clauses)
    with closing(Cadical(v.clauses)) as solver:
        assert solver.solve(there)
        leave_out_needless(v)
        broken = [one for one in v.clauses.clauses[words:] if not any(map(solver.holds, one))]
    return [
        part
        for part in layout.parts
        if (isinstance(part, Relay) and any(-v.is_relay(part.at, part.output) in one for one in broken))
        or (isinstance(part, Gauge) and any(-v.is_gauge(part.at, part.output) in one for one in broken))
    ]


def latches(layout: Layout, part: Relay | Gauge) -> bool:
    """It faces a relay's side, which no solution of the model has it do."""
    ahead = layout.by_cell.get(step(part.at, part.output))
    return isinstance(ahead, Relay) and ahead.output in SIDES[part.output]


def run(layout: Layout, seed: int) -> list[Change]:
    _, case = random_run(random.Random(seed))
    arrivals = arrivals_for(layout, case["loads"], case["every"])
    changes, _ = traced(layout, arrivals, order=case["order"], ticks=MOST_TICKS)
    return changes


def without(layout: Layout, part: Relay | Gauge) -> Layout:
    return replace(layout, parts=tuple(one for one in layout.parts if one != part))


def test_a_run_without_them_is_the_same() -> None:
    looked_at = needed = 0
    for seed in range(BUILDS):
        layout, _ = random_run(random.Random(seed))
        needless = named(layout)
        try:
            before = run(layout, seed)
        except InputError:  # a load that the bin cannot hold
            continue
        for part in layout.parts:
            if isinstance(part, (Relay, Gauge)) and not latches(layout, part):
                if part not in needless and seed >= OTHERS:
                    continue
                others = [change for change in before if change[1] != part.at]
                same = run(without(layout, part), seed) == others
                if part in needless:
                    assert same, (seed, part)
                    looked_at += 1
                needed += not same
    assert looked_at >= 60
    assert needed >= 5


def test_what_acts_is_not_named() -> None:
    """Each thing that a relay or gauge does, drawn; and the same parts turned away from it, or alone."""
    for drawing in (
        "r1E nE",  # locks a node
        "r1E #",  # energises a solid cell
        "r1E -",  # drives a line
        "r1E r1E #",  # drives a relay
        "r1E gN",  # a gauge's side input
        "- r1E",  # a line behind points into its back
        "gE nE",
        "gN -",  # a line connects to any side of a gauge
    ):
        parts = [part for part in drawn(drawing).parts if isinstance(part, (Relay, Gauge))]
        assert parts[0] not in named(drawn(drawing)), drawing
    for drawing in ("r1E .", "r1W nE", "r1N -", "gE .", "gE r1W", "r1E iD", "B gE", "gW nE"):
        parts = [part for part in drawn(drawing).parts if isinstance(part, (Relay, Gauge))]
        assert parts[0] in named(drawn(drawing)), drawing
