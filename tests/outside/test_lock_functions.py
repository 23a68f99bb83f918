"""Fewest inverters for each lock function of two watched nodes, against the published minimal NOR circuits.

An inverter whose mount cell several signals energise is a NOR gate of any number of inputs; a line that several sources
feed, or a node that several things lock, is an OR that costs nothing.

Sources for the smallest numbers of NOR gates (``PUBLISHED_NOR``), inputs not complemented:

- L. Hellerman, "A catalog of three-variable Or-Invert and And-Invert logical circuits", IEEE Trans. Electronic
  Computers EC-12 (1963), 198-223: FROM MEMORY, for the functions of two of its three variables;
- Wikipedia, "NOR logic", read: circuits with these numbers for NOT, OR, AND, NAND, XNOR and XOR;
- H. P. Williams, Model Building in Mathematical Programming, example 12 (fewest NOR gates for XOR): five, from memory.

R. A. Smith, "Minimal three-variable NOR and NAND logic circuits", University of Illinois report 162 (1964), read: with
complemented inputs at hand five gates are enough for each of the 256 functions of three variables.

The free OR. Let nor(f) be the fewest gates of a circuit whose last gate shows f, free(f) the fewest when f may be the
OR of any signals. Then nor(f) = 1 + free(not f): the inputs of the last gate show not f as an OR, and no other gate
needs the last one (what did would lie behind it); the other way round, one more gate inverts such an OR. So
free(f) = nor(not f) - 1. (A catalogue gives 0 for an input itself and leaves out the constants; with a last gate they
take 2, the constant 1 takes one gate that nothing drives, the constant 0 that gate and one more.)

Gauges. A gauge with a side input above its reading shows 0: that is "reads and not s" for any signal s strong enough,
with no inverter. With such gauges just the functions that lock when both nodes are empty need an inverter, and one is
enough: OR and "and not" preserve 0 and make every function that does (Post 1941, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from burst_lock_table import LOCK_TABLE
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, step
from sim.world.layout import ItemKind, Layout
from sim.world.parts import Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.signals.wiring import wiring_of
from sim.world.trial import Trial
from synth.read.spec_file import load_spec
from synth.search.race import Request, first_layout

SPECS = Path(__file__).resolve().parent.parent.parent / "specs"

Table = int
"""A truth table: bit i is the value in row i; in row i the head holds something if bit 0 of i is set, the tail if bit 1
is."""
HEAD: Table = 0b1010
TAIL: Table = 0b1100
ALL: Table = 0b1111
ROWS = ((False, False), (True, False), (False, True), (True, True))
"""(head holds, tail holds) of each row."""

PUBLISHED_NOR: dict[str, tuple[Table, int]] = {
    "NOT head": (~HEAD & ALL, 1),
    "NOT tail": (~TAIL & ALL, 1),
    "NOR": (~(HEAD | TAIL) & ALL, 1),
    "OR": (HEAD | TAIL, 2),
    "head AND NOT tail": (HEAD & ~TAIL, 2),
    "tail AND NOT head": (TAIL & ~HEAD, 2),
    "AND": (HEAD & TAIL, 3),
    "tail implies head": (HEAD | ~TAIL & ALL, 3),
    "head implies tail": (TAIL | ~HEAD & ALL, 3),
    "NAND": (~(HEAD & TAIL) & ALL, 4),
    "XNOR": (~(HEAD ^ TAIL) & ALL, 4),
    "XOR": (HEAD ^ TAIL, 5),
}
WITH_A_LAST_GATE = {HEAD: 2, TAIL: 2, ALL: 1, 0: 2}
"""What no catalogue lists: the inputs and the constants as outputs of a gate."""


# -- exact enumeration ------------------------------------------------------------------------------------------------

Gates = tuple[Table, ...]
Derived = Callable[[frozenset[Table]], frozenset[Table]]
"""What is to be had from some signals at no cost."""


def ors(signals: Iterable[Table], fan_in: int | None = None) -> frozenset[Table]:
    """The ORs of any of the signals, or of at most ``fan_in`` of them; the OR of none is 0."""
    made = {0}
    if fan_in is None:
        for signal in signals:
            made |= {signal | one for one in made}
    else:
        for _ in range(fan_in):
            made |= {signal | one for signal in signals for one in made}
    return frozenset(made)


def as_it_is(signals: frozenset[Table]) -> frozenset[Table]:
    return signals


def by_gauges(signals: frozenset[Table]) -> frozenset[Table]:
    """Each watched node's reading held down by any signal, again and again."""
    while True:
        more = signals | {reading & ~held_down for reading in (HEAD, TAIL) for held_down in ors(signals)}
        if more == signals:
            return signals
        signals = more


def fewest_gates(
    inputs: Sequence[Table], everything: Table, shown: Derived, free: Derived = as_it_is, most: int = 5
) -> dict[Table, Gates]:
    """For each function a shortest list of NOR gates with which it is among what the signals show; breadth first over
    sets of gates."""
    found: dict[Table, Gates] = {}
    level: dict[frozenset[Table], Gates] = {frozenset(): ()}
    for _ in range(most + 1):
        following: dict[frozenset[Table], Gates] = {}
        for gates in level.values():
            signals = free(frozenset((*inputs, *gates)))
            for function in shown(signals):
                found.setdefault(function, gates)
            for energised in ors(signals):
                gate = everything & ~energised
                if gate not in signals:
                    following.setdefault(frozenset((*gates, gate)), (*gates, gate))
        if len(found) > everything:
            break
        level = following
    return found


def free_or(inputs: Sequence[Table] = (HEAD, TAIL), everything: Table = ALL) -> dict[Table, Gates]:
    return fewest_gates(inputs, everything, ors)


@pytest.mark.parametrize("fan_in", [2, 3, None])
def test_gates_alone_are_as_many_as_published(fan_in: int | None) -> None:
    """Without the free OR, with gates of two or three inputs (as in textbooks and catalogue) or of any number."""
    level: set[frozenset[Table]] = {frozenset()}
    fewest: dict[Table, int] = {HEAD: 0, TAIL: 0}
    for count in range(1, 6):
        signals = [frozenset((HEAD, TAIL)) | gates for gates in level]
        level = {s - {HEAD, TAIL} | {ALL & ~one} for s in signals for one in ors(s, fan_in)}
        for gates in level:
            for function in gates:
                fewest.setdefault(function, count)
    assert {name: fewest[table] for name, (table, _) in PUBLISHED_NOR.items()} == {
        name: published for name, (_, published) in PUBLISHED_NOR.items()
    }


def test_with_the_free_or_it_is_one_less_than_published_for_the_opposite() -> None:
    fewest = {table: len(gates) for table, gates in free_or().items()}
    nor = dict(PUBLISHED_NOR.values()) | WITH_A_LAST_GATE
    assert len(nor) == len(fewest) == 16
    assert fewest == {table: nor[ALL & ~table] - 1 for table in range(16)}


def test_the_lock_of_the_burst_row_takes_two_inverters() -> None:
    """It locks while the head holds something and the tail is empty; "head implies tail" takes three gates."""
    table = sum(row.locked << ROWS.index((row.head_holds, row.tail_holds)) for row in LOCK_TABLE)
    assert table == HEAD & ~TAIL
    assert len(free_or()[table]) == PUBLISHED_NOR["head implies tail"][1] - 1 == 2


def test_five_gates_are_enough_for_three_variables_and_their_complements() -> None:
    """Smith 1964. The last gate inverts an OR that four gates or fewer have to show; parity needs them all: four
    products of three, each a gate of its own, and one gate that inverts them."""
    everything = 2**8 - 1
    variables = (0b10101010, 0b11001100, 0b11110000)
    inputs = (*variables, *(everything & ~variable for variable in variables))
    found = fewest_gates(inputs, everything, ors, most=4)
    assert len(found) == 256
    parity = variables[0] ^ variables[1] ^ variables[2]
    assert max(len(gates) for gates in found.values()) == len(found[parity]) == 4


def test_gauges_held_down_leave_one_inverter_for_what_locks_when_all_is_empty() -> None:
    fewest = {table: len(gates) for table, gates in fewest_gates((HEAD, TAIL), ALL, ors, by_gauges).items()}
    assert fewest == {table: table & 1 for table in range(16)}


# -- the same circuits built, under the simulator's laws --------------------------------------------------------------

ROW_PITCH, COLUMN_PITCH, FIRST_COLUMN, LOW, HIGH = 6, 8, 8, 1, 4
HELD = (("clay", 1),)


def inputs_of(function: Table, signals: Sequence[Table]) -> list[int]:
    """Numbers of signals whose OR is the function, none of them superfluous."""
    chosen = [i for i, signal in enumerate(signals) if signal & ~function == 0]
    for i in tuple(chosen):
        if _or(signals[other] for other in chosen if other != i) == function:
            chosen.remove(i)
    assert _or(signals[i] for i in chosen) == function
    return chosen


def _or(tables: Iterable[Table]) -> Table:
    together = 0
    for table in tables:
        together |= table
    return together


class Crossbar:
    """A build for a list of NOR gates and a lock, wide and plain.

    Signal number j runs east at y = 6j, low; the two watched nodes' gauges start the first two. Column number k runs
    north, high above the signals, and collects those it is to OR: a staircase of lines from the signal, then a relay,
    so that nothing comes back. At its north end it energises the support that an inverter is fixed to, from where the
    next signal runs down and east; the last column ends at the node that it locks. Relays keep levels up.
    """

    def __init__(self, gates: Gates, function: Table) -> None:
        self.parts: list[Part] = []
        self.columns = len(gates) + 1
        signals = [HEAD, TAIL, *gates]
        for number in range(2):
            self._source(number)
        for column, gate in enumerate(gates):
            self._column(column, inputs_of(ALL & ~gate, signals[: column + 2]))
            self._inverter(column)
        self._column(len(gates), inputs_of(function, signals))
        self.lock = self._end(len(gates))
        self.parts.append(Node(self.lock, "D"))
        self.watched = ((0, 0, LOW), (0, ROW_PITCH, LOW))

    def layout(self, head_holds: bool, tail_holds: bool) -> Layout:
        """With something in the watched nodes, or not."""
        full = [cell for cell, something in zip(self.watched, (head_holds, tail_holds), strict=True) if something]
        parts = tuple(holding(part) if part.at in full else part for part in self.parts)
        width, depth, height = (max(part.at[axis] for part in parts) + 1 for axis in range(3))
        return Layout("crossbar", (width, depth, height), {"clay": ItemKind(64)}, parts)

    def _end(self, column: int) -> Cell:
        return FIRST_COLUMN + COLUMN_PITCH * column, ROW_PITCH * (column + 2), HIGH

    def _on_support(self, part: Part) -> None:
        self.parts += [Support(step(part.at, "D")), part]

    def _source(self, number: int) -> None:
        y = ROW_PITCH * number
        self.parts.append(Node((0, y, LOW), "D"))
        self._on_support(Gauge((1, y, LOW), "E"))
        self._on_support(Relay((2, y, LOW), "E"))
        self._run(3, y)

    def _run(self, x: int, y: int) -> None:
        """East, up to the last column, with a relay on the way from each column to the next."""
        last = FIRST_COLUMN + COLUMN_PITCH * (self.columns - 1) - 2
        for here in range(x, last + 1):
            at = (here, y, LOW)
            boosted = here > x and (here + 4 - FIRST_COLUMN) % COLUMN_PITCH == 0
            self._on_support(Relay(at, "E") if boosted else Line(at))

    def _column(self, column: int, signals: Sequence[int]) -> None:
        x, end, _ = self._end(column)
        for y in range(3, end):
            boosted = y % ROW_PITCH == ROW_PITCH - 1 and y != end - 1
            self._on_support(Relay((x, y, HIGH), "N") if boosted else Line((x, y, HIGH)))
        for signal in signals:
            foot = ROW_PITCH * signal
            for height in range(1, HIGH - LOW + 1):
                self._on_support(Line((x - 2, foot + height, LOW + height)))
            self._on_support(Relay((x - 1, foot + HIGH - LOW, HIGH), "E"))

    def _inverter(self, column: int) -> None:
        x, y, z = self._end(column)
        self.parts += [Support((x, y, z)), Inverter((x + 1, y, z), "W")]
        for down in range(HIGH - LOW):
            self._on_support(Line((x + 2 + down, y, z - down)))
        self._run(x + 2 + HIGH - LOW, y)


@pytest.mark.parametrize("function", range(16))
def test_each_function_is_built_with_so_many_inverters(function: Table) -> None:
    gates = free_or()[function]
    crossbar = Crossbar(gates, function)
    assert sum(isinstance(part, Inverter) for part in crossbar.parts) == len(gates)
    assert len({part.at for part in crossbar.parts}) == len(crossbar.parts)
    assert shown_table(crossbar.layout, crossbar.lock) == function


def shown_table(layout_of: Callable[[bool, bool], Layout], lock: Cell) -> Table:
    """What the simulator makes of a lock in the four rows."""
    table = 0
    for i, (head_holds, tail_holds) in enumerate(ROWS):
        result = Trial(layout_of(head_holds, tail_holds)).result()
        assert result.findings == ()
        table |= (lock in result.locked) << i
    return table


@pytest.mark.parametrize(("lifted", "function"), [(True, HEAD & ~TAIL), (False, HEAD)])
def test_a_gauge_held_down_locks_as_the_burst_row_does_without_inverters(lifted: bool, function: Table) -> None:
    """The tail's gauge, lifted by a relay, faces a side of the head's. Without the relay it is no higher than the
    head's reading, and nothing is held down."""
    head, lock = (0, 3, 1), (2, 3, 1)
    tail = (1, 0, 1) if lifted else (1, 1, 1)
    signals: list[Part] = [Gauge((1, 3, 1), "E"), Gauge(step(tail, "N"), "N")]
    if lifted:
        signals.append(Relay((1, 2, 1), "N"))
    supports = [Support(step(part.at, "D")) for part in signals]

    def layout(head_holds: bool, tail_holds: bool) -> Layout:
        nodes = [Node(head, "D", HELD * head_holds), Node(tail, "D", HELD * tail_holds), Node(lock, "D")]
        return Layout("held down", (3, 4, 2), {"clay": ItemKind(64)}, (*nodes, *supports, *signals))

    assert shown_table(layout, lock) == function


# -- the builds of the project ----------------------------------------------------------------------------------------

BY_HAND = {
    "burst-row-of-two": HEAD & ~TAIL,
    "burst-row-of-three": HEAD & ~TAIL,
    "burst-row-of-three-one-relay-more": HEAD & ~TAIL,
    "burst-row-of-five": HEAD & ~TAIL,
    "row-of-three-no-drain": ~TAIL & ALL,
}


@pytest.mark.parametrize("name", BY_HAND)
def test_locks_made_by_hand_use_no_fewer_inverters_than_their_function_takes(name: str) -> None:
    assert_inverters_enough(load_layout(SPECS / "layouts" / f"{name}.plan"), BY_HAND[name])


@pytest.mark.slow
def test_a_proposal_for_two_kilns_uses_no_fewer_inverters_than_its_lock_takes() -> None:
    (proposal,) = first_layout(load_spec(SPECS / "two-kilns.toml"), Request(1, 60.0, 1)).proposals
    assert_inverters_enough(proposal.layout, HEAD & ~TAIL)


def assert_inverters_enough(layout: Layout, function: Table) -> None:
    """Every node below T1..TN is locked by the function, and the inverters are as many as that takes at the least:
    fewer where a gauge has something at its sides, for it may do some of the logic."""
    head, *others = row_of(layout)

    def filled(head_holds: bool, tail_holds: bool) -> Layout:
        full = ({head} if head_holds else set()) | ({others[-1]} if tail_holds else set())
        return replace(layout, parts=tuple(holding(part) if part.at in full else part for part in layout.parts))

    assert {shown_table(filled, step(node, "D")) for node in others} == {function}
    wiring = wiring_of(layout)
    held_down = any(wiring.side_lines) or any(wiring.side_parts)
    fewest = fewest_gates((HEAD, TAIL), ALL, ors, by_gauges) if held_down else free_or()
    assert sum(isinstance(part, Inverter) for part in layout.parts) >= len(fewest[function])


def holding(part: Part) -> Part:
    assert isinstance(part, Node)
    return replace(part, holds=HELD)


def row_of(layout: Layout) -> list[Cell]:
    """The T nodes, from the one below the source to the one that pushes into nothing."""
    row = [step(layout.streams[0].source, "D")]
    while True:
        part = layout.by_cell[row[-1]]
        assert isinstance(part, Node)
        ahead = step(part.at, part.outlet)
        if not isinstance(layout.by_cell.get(ahead), Node):
            return row
        row.append(ahead)
