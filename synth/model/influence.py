"""Who can act on whom in a candidate, whatever the state: the edges along which delays add up and streams couple."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sim.world.geometry import HORIZONTAL, SIDES, Cell, Direction, neighbours, step
from sim.world.parts import DELAYS, MOUNTS, OUTPUTS
from synth.model.clauses import Lit
from synth.model.edges import Edge, Family, Place
from synth.model.links import Links
from synth.model.vocabulary import LINE, Vocabulary, back, inverter

_TRACKED: Final[tuple[Family, ...]] = ("part", "strong", "solid", "line")


def tracked_places(v: Vocabulary) -> Iterator[Place]:
    """Every place that passes influence on, in the order of the variables made for them; nodes only receive it."""
    for family in _TRACKED:
        for cell in v.cells:
            yield family, cell


def own_delays(v: Vocabulary) -> Iterator[tuple[Lit, Cell, int]]:
    """(given, cell, ticks): a part that stands in the cell changes that many ticks after its input."""
    q = v.question
    for cell in v.cells:
        yield v.is_inverter(cell), cell, q.inverter_delay
        yield v.clauses.any_of(v.of_name(cell, "gauge")), cell, q.gauge_delay
        any_relay = v.clauses.any_of(v.of_name(cell, "relay"))
        for delay in DELAYS:
            yield v.clauses.both(any_relay, v.delay[cell][delay]), cell, q.relay_step * delay


def edges(v: Vocabulary, links: Links) -> Iterator[Edge]:
    """Every influence of one cell on another. Linear in the number of cells."""
    for cell in v.cells:
        yield from _from_directed_part(v, cell)
        yield from _from_inverter(v, cell)
        yield from _from_solid(v, cell)
        yield from _from_line(v, links, cell)


def _from_directed_part(v: Vocabulary, cell: Cell) -> Iterator[Edge]:
    for output in OUTPUTS:
        here = v.clauses.any_of((v.is_relay(cell, output), v.is_gauge(cell, output)))
        front = step(cell, output)
        part: Place = ("part", cell)
        yield Edge((here, v.is_solid(front)), part, ("strong", front))
        yield Edge((here, v.is_(front, LINE)), part, ("line", front))
        yield Edge((here,), part, ("node", front))
        yield from _into_relay(v, here, part, front, output)
        for side in SIDES[output]:
            yield Edge((here, v.is_gauge(front, side)), part, ("part", front), v.question.gauge_delay)


def _from_inverter(v: Vocabulary, cell: Cell) -> Iterator[Edge]:
    here = v.is_inverter(cell)
    part: Place = ("part", cell)
    above = step(cell, "U")
    yield Edge((here, v.is_solid(above)), part, ("strong", above))
    for other in neighbours(cell):
        yield Edge((here, v.is_(other, LINE)), part, ("line", other))
        yield Edge((here,), part, ("node", other))
    for output in HORIZONTAL:
        yield from _into_relay(v, here, part, step(cell, output), output)


def _from_solid(v: Vocabulary, cell: Cell) -> Iterator[Edge]:
    solid = v.is_solid(cell)
    yield Edge((solid,), ("strong", cell), ("solid", cell))
    for other in neighbours(cell):
        yield Edge((solid, v.is_(other, LINE)), ("strong", cell), ("line", other))
        yield Edge((solid,), ("solid", cell), ("node", other))
    for mount in MOUNTS:
        here = v.is_(back(cell, mount), inverter(mount))
        yield Edge((solid, here), ("solid", cell), ("part", back(cell, mount)), v.question.inverter_delay)
    for output in HORIZONTAL:
        yield from _into_relay(v, solid, ("solid", cell), step(cell, output), output)


def _from_line(v: Vocabulary, links: Links, cell: Cell) -> Iterator[Edge]:
    line: Place = ("line", cell)
    here = v.is_(cell, LINE)
    for other in links.level_neighbours(cell):
        yield Edge((here, v.is_(other, LINE)), line, ("line", other))
    for link, other in links.sloping(cell):
        yield Edge((link,), line, ("line", other))
    below = step(cell, "D")
    yield Edge((here, v.is_solid(below)), line, ("solid", below))
    for side in HORIZONTAL:
        pointing, beside = links.points_into[cell, side], step(cell, side)
        yield Edge((pointing, v.is_solid(beside)), line, ("solid", beside))
        yield Edge((pointing,), line, ("node", beside))
        yield from _into_relay(v, here, line, beside, side)
        for output in SIDES[side]:
            yield Edge((here, v.is_gauge(beside, output)), line, ("part", beside), v.question.gauge_delay)


def _into_relay(v: Vocabulary, here: Lit, source: Place, cell: Cell, output: Direction) -> Iterator[Edge]:
    """Into the back of a relay in ``cell`` with that output, for each delay that it may have."""
    if cell not in v.kind:
        return
    for delay in DELAYS:
        given = (here, v.is_relay(cell, output), v.delay[cell][delay])
        yield Edge(given, source, ("part", cell), v.question.relay_step * delay)


