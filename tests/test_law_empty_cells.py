"""The law that lets one box stand for all boxes within it: empty cells around a build change nothing.

Rulebook section 4 words the state of a cell by its neighbours and what links to them, and an empty cell does nothing:
a build in a larger site, anywhere in it, runs as before, cell by cell and tick by tick. Raised above the ground it
does so too, if nothing in its lowest layer needs the ground.
"""

from __future__ import annotations

import random
from dataclasses import replace

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from oracle.naive import Document
from sim.analysis.checks import CHECKS
from sim.analysis.checks.running import run_findings
from sim.errors import InputError
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Line, Relay, Support
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, TrialResult, arrivals_for
from sim.world.world import Finding
from strategies import layouts
from worlds import Change, drawn, random_run, traced

SEEDS = st.integers(0, 2**32 - 1)
SHIFTS = st.tuples(st.integers(0, 3), st.integers(0, 3))
MARGINS = st.tuples(st.integers(0, 3), st.integers(0, 3), st.integers(0, 3))
MOST_TICKS = 400


def shifted(layout: Layout, shift: Cell, margin: Cell) -> Layout:
    """The same parts, in the same order, in a site that is larger all around."""
    width, depth, height = (s + by + more for s, by, more in zip(layout.size, shift, margin, strict=True))
    return replace(
        layout,
        size=(width, depth, height),
        parts=tuple(replace(part, at=moved(part.at, shift)) for part in layout.parts),
        streams=tuple(
            replace(one, source=moved(one.source, shift), outputs=tuple(moved(cell, shift) for cell in one.outputs))
            for one in layout.streams
        ),
    )


def moved(cell: Cell, shift: Cell) -> Cell:
    return cell[0] + shift[0], cell[1] + shift[1], cell[2] + shift[2]


def moved_changes(changes: list[Change], shift: Cell) -> list[Change]:
    return [(tick, moved(cell, shift), state) for tick, cell, state in changes]


def moved_result(result: TrialResult, shift: Cell) -> TrialResult:
    """Findings without their texts, which name cells."""
    return replace(
        result,
        contents={moved(cell, shift): slots for cell, slots in result.contents.items()},
        signals={moved(cell, shift): value for cell, value in result.signals.items()},
        locked=tuple(moved(cell, shift) for cell in result.locked),
        findings=tuple(replace(one, text="", at=one.at and moved(one.at, shift)) for one in result.findings),
    )


def needs_ground(layout: Layout) -> bool:
    """Something in the lowest layer stands on the ground or is fixed to it."""
    lowest = [part for part in layout.parts if part.at[2] == 0]
    return any(
        isinstance(part, (Line, Relay, Gauge)) or (isinstance(part, Inverter) and part.mount == "D") for part in lowest
    )


def on_supports(layout: Layout) -> Layout:
    """The build one layer higher, with a support below each part that needed the ground."""
    lifted = shifted(layout, (0, 0, 1), (0, 0, 0))
    bases = [part.at for part in layout.parts if needs_ground(replace(layout, parts=(part,)))]
    return replace(lifted, parts=(*lifted.parts, *map(Support, bases)))


def assert_same_run(
    layout: Layout, arrivals: list[Arrival], order: list[Cell] | None, shift: Cell, margin: Cell
) -> list[Change]:
    changes, result = traced(layout, arrivals, order=order, ticks=MOST_TICKS)
    elsewhere = shifted(layout, shift, margin)
    there = order and [moved(cell, shift) for cell in order]
    changes_there, result_there = traced(elsewhere, arrivals, order=there, ticks=MOST_TICKS)
    assert changes_there == moved_changes(changes, shift)
    assert moved_result(result_there, (0, 0, 0)) == moved_result(result, shift)
    found = [replace(one, at=one.at and moved(one.at, shift)) for one in design_faults(layout)]
    assert sorted(design_faults(elsewhere), key=str) == sorted(found, key=str)
    return changes


def design_faults(layout: Layout) -> list[Finding]:
    """What the design checks find of the layout as it stands, without the texts, which name cells."""
    rules = layout.rules_in_force(default_rules())
    found = (one for check in CHECKS if check is not run_findings for one in check(layout, rules))
    return [Finding(one.check, "", one.at, one.tick) for one in found]


def arrivals_of(layout: Layout, case: Document) -> list[Arrival]:
    return arrivals_for(layout, case["loads"], case["every"])


@settings(max_examples=120)
@given(SEEDS, SHIFTS, MARGINS)
def test_elsewhere_in_a_larger_site(seed: int, shift: tuple[int, int], margin: Cell) -> None:
    layout, case = random_run(random.Random(seed))
    try:
        assert_same_run(layout, arrivals_of(layout, case), case["order"], (*shift, 0), margin)
    except InputError:  # a load that the bin cannot hold
        assume(False)


@settings(max_examples=120)
@given(layouts(), SHIFTS, MARGINS)
def test_whatever_a_layout_file_can_hold(layout: Layout, shift: tuple[int, int], margin: Cell) -> None:
    assert_same_run(layout, [], None, (*shift, 0), margin)


@settings(max_examples=120)
@given(SEEDS, SHIFTS, st.integers(1, 3), MARGINS)
def test_above_the_ground_if_nothing_needs_it(seed: int, shift: tuple[int, int], up: int, margin: Cell) -> None:
    """Random builds are put on supports first, so that nothing in the lowest layer needs the ground."""
    layout, case = random_run(random.Random(seed))
    layout = on_supports(layout)
    assert not needs_ground(layout)
    order = case["order"] and [moved(cell, (0, 0, 1)) for cell in case["order"]]
    try:
        assert_same_run(layout, arrivals_of(layout, case), order, (*shift, up), margin)
    except InputError:
        assume(False)


def test_the_runs_are_about_something() -> None:
    """Items move and signals change in most random runs; and a good share of builds needs the ground as drawn."""
    lively = signals = grounded = 0
    for seed in range(60):
        layout, case = random_run(random.Random(seed))
        grounded += needs_ground(layout)
        try:
            changes = assert_same_run(layout, arrivals_of(layout, case), case["order"], (1, 2, 0), (1, 1, 1))
        except InputError:
            continue
        lively += any(not state.startswith("=") for _, _, state in changes)
        signals += any(state.startswith("=") for _, _, state in changes)
    assert lively >= 25
    assert signals >= 25
    assert grounded >= 10


def test_what_needs_the_ground_is_told_of_above_it() -> None:
    """Why the law asks for a lowest layer that does not need the ground: raised, a line has nothing to stand on."""
    layout = drawn("iD - nE / . . B")
    assert needs_ground(layout)
    faults = [(one.check, one.at) for one in design_faults(layout)]
    raised = [(one.check, one.at) for one in design_faults(shifted(layout, (0, 0, 2), (0, 0, 0)))]
    assert ("no support", (1, 0, 2)) in raised
    assert not any(kind == "no support" for kind, _ in faults)
    assert not needs_ground(on_supports(layout))
    assert not any(one.check == "no support" for one in design_faults(on_supports(layout)))
