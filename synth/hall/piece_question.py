"""What is asked of the model for the pieces of one row: its own lane and wiring lanes, with the rest of the wing
standing around it, and every column along the furnaces alike."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from sim.world.geometry import Cell
from sim.world.rulebook import Rules
from synth.hall.lanes import (
    FEED,
    HEIGHT,
    End,
    Lane,
    beside_the_bin,
    containers,
    furnace,
    other,
    standing,
    straight_on,
)
from synth.hall.section import Section
from synth.model.grid import Grid
from synth.model.question import Question, Standing, StreamQuestion
from synth.schemes.scheme import DelayWindow, Scheme, Windows, common_windows

ALIKE: Final = 3
"""Columns that are alike: two that stand side by side, and one between two others."""

Barred = frozenset[tuple[Cell, str]]


@dataclass(frozen=True, slots=True)
class Site:
    """The columns and lanes that a row's wiring may take. ``before``, ``after``: columns of head and tail; ``lanes``:
    wiring lanes."""

    before: int
    after: int
    lanes: int

    def __str__(self) -> str:
        return f"head of {self.before}, tail of {self.after}, wiring lanes: {self.lanes}"


@dataclass(frozen=True, slots=True)
class PieceQuestion:
    """One question in the model's coordinates. ``low``: the model's origin in those of the wing; ``lead``: columns with
    a furnace that belong to the head; ``n`` furnaces."""

    question: Question
    low: Cell
    lead: int
    n: int

    def outside(self, cell: Cell) -> Cell:
        """A cell of the model in the coordinates of the wing."""
        return cell[0] + self.low[0], cell[1] + self.low[1], cell[2] + self.low[2]


def lead_of(scheme: Scheme, section: Section | None = None) -> int:
    """Columns with a furnace that differ from those behind them: one, where the source bin stands above T1; in a close
    wing what the cross-section says."""
    return scheme.first if section is None else section.lead


def smallest_number(scheme: Scheme, section: Section | None = None) -> int:
    """Furnaces of the row that pieces are cut from."""
    return max(lead_of(scheme, section) + ALIKE, scheme.outputs_least)


def windows_of(scheme: Scheme, rules: Rules, n: int, handovers: Iterable[int], spare: int = 0) -> Windows:
    """The delays that a row of n allows under all of these handovers (a window may be empty), ``spare`` ticks less."""
    common = common_windows(scheme, rules, n, handovers)
    return {label: DelayWindow(window.least, window.most - spare) for label, window in common.items()}


def longest_in_time(scheme: Scheme, rules: Rules, handovers: Sequence[int], spare: int = 0) -> int:
    """The longest row that some delays of parts are right for under all the handovers, up to what one node can serve;
    so pieces are asked for its windows, and serve shorter rows too (windows narrow as rows grow)."""
    unit = math.gcd(rules.inverter_delay, rules.gauge_delay, rules.relay_step)
    least = smallest_number(scheme)

    def some_delay_fits(n: int) -> bool:
        windows = windows_of(scheme, rules, n, handovers, spare).values()
        return all(one.most // unit * unit >= max(one.least, rules.gauge_delay) for one in windows)

    return next((n for n in range(node_reach(rules), least, -1) if some_delay_fits(n)), least)


def node_reach(rules: Rules) -> int:
    """Furnaces that one node can serve at full work: it passes one item a period, each takes one a firing."""
    return rules.firing // rules.period


def piece_question(
    lane: Lane,
    scheme: Scheme,
    rules: Rules,
    site: Site,
    windows: Windows,
    n: int,
    end: End,
    barred: Barred = frozenset(),
    alike: bool = True,
    section: Section | None = None,
) -> PieceQuestion:
    """The question for a row of n in that lane, the product leaving at that ``end``; ``barred``: in the
    coordinates of the wing; ``alike``: all columns along the furnaces are to be alike; ``section``: of a close wing."""
    lead = lead_of(scheme, section)
    columns = range(-site.before, n + site.after)
    ys = sorted((lane.y + lane.wiring * site.lanes, other(lane).y))
    if section is not None and lane.face == FEED.face:  # which goes through the lanes of the fuel row
        ys[1] += site.lanes
    low = (columns[0], ys[0], 0)

    def inside(cell: Cell) -> Cell:
        return cell[0] - low[0], cell[1] - low[1], cell[2]

    size = (len(columns), ys[1] - ys[0] + 1, HEIGHT)
    stands = standing(lane, n, end, ys[1]) if section is None else _close(lane, section, n, site.after)
    around: Mapping[Cell, Standing] = {inside(cell): kind for cell, kind in stands if inside(cell) in Grid(size)}
    targets = tuple(inside(furnace(i)) for i in range(1, n + 1))
    of_the_other = _of_the_other(lane, section, range(lead, n), lane.source(scheme.first))
    taken = frozenset(
        cell
        for cell in Grid(size)
        if of_the_other((cell[0] + low[0], cell[1] + low[1], cell[2])) and cell not in around and cell not in targets
    )
    question = Question(
        grid=Grid(size, taken),
        outputs=n,
        streams=(StreamQuestion(lane.face, lane.face, frozenset({inside(lane.source(scheme.first))}), targets),),
        reach=rules.reach,
        inverter_delay=rules.inverter_delay,
        gauge_delay=rules.gauge_delay,
        relay_step=rules.relay_step,
        stages=scheme.stages(rules),
        windows=windows,
        straight="E",
        beside=lane.beside,
        row_unlocked=True,
        repeat=(inside(furnace(lead + 1))[0], inside(furnace(n))[0]) if alike else None,
        levels=rules.reach,
        break_symmetry=False,
        standing=around,
        barred=frozenset((inside(cell), kind) for cell, kind in barred),
        scheme=scheme,
    )
    return PieceQuestion(question, low, lead, n)


def _of_the_other(lane: Lane, section: Section | None, alike: range, source: Cell) -> Callable[[Cell], bool]:
    """What wiring of the row must not take: the lane of the other row, and in close wings what is left to that; where
    the lane is open to it, what the wiring of the other row takes in columns that are alike."""
    if section is None:
        return lambda cell: cell[1] == other(lane).y
    if lane.face != FEED.face:
        return lambda cell: cell != source and (
            cell[1] == other(lane).y or cell in section.kept or cell[2] >= section.layers
        )
    stretch = {part.at[1:] for part in section.fuel}
    return lambda cell: cell[0] in alike and cell[1:] in stretch


def _close(lane: Lane, section: Section, n: int, after: int) -> Iterator[tuple[Cell, Standing]]:
    """What stands in a close wing beside the row of that lane."""
    yield from ((cell, "product") for cell in (*straight_on(n, after), beside_the_bin(n, after)))
    yield from containers(section.lane("side" if lane.face == FEED.face else "top"), n)
