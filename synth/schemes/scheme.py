"""What a scheme is: data on its row of nodes, a lock table, delay windows.

A *row* of nodes T push each into the next; the source bin stands above the first. Below Ti, for i = 1..N, hangs Bi, and
target i is where Bi's outlet leads. Gauges read some of these nodes and lock some of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from functools import reduce
from typing import Final, Literal

from sim.world.parts import Holds
from sim.world.rulebook import Rules
from synth.ask.spec import EvenFor, Leftovers

Role = Literal["T", "B"]


@dataclass(frozen=True, slots=True)
class DelayWindow:
    """Delays on the way from a gauge to the locks that the scheme allows, in ticks."""

    least: int
    most: int

    def within(self, other: DelayWindow) -> DelayWindow:
        """The delays that both allow (may be none)."""
        return DelayWindow(max(self.least, other.least), min(self.most, other.most))


Windows = Mapping[str, DelayWindow]
"""For each label of gauges whose delay matters: the window of every way from such a gauge to a lock."""
WindowsOf = Callable[[Rules, int, int], Windows]
"""Rules, outputs, handover -> the windows."""
HeldOf = Callable[[int, Rules, int], int]
"""Outputs, rules, stack limit -> items."""
ANY_NUMBER: Final = 10**6


def any_number(_rules: Rules, _stack: int) -> int:
    """No bound on the outputs."""
    return ANY_NUMBER


class Which(Enum):
    """Which nodes of a role, in the order of their numbers."""

    EVERY = "every"
    FIRST = "the first"
    LAST = "the last"
    ALL_BUT_LAST = "all but the last"
    ALL_BUT_FIRST = "all but the first"
    SECOND = "the second"
    THIRD = "the third"
    FROM_THIRD = "the third and those after it"
    LAST_BUT_ONE = "the last but one"
    INNER = "all but the first and the last"
    INNER_BUT_ONE = "all but the first and the last two"

    def of(self, numbers: range) -> range:
        """Those of ``numbers``."""
        match self:
            case Which.EVERY:
                return numbers
            case Which.FIRST:
                return numbers[:1]
            case Which.LAST:
                return numbers[-1:]
            case Which.ALL_BUT_LAST:
                return numbers[:-1]
            case Which.ALL_BUT_FIRST:
                return numbers[1:]
            case Which.SECOND:
                return numbers[1:2]
            case Which.THIRD:
                return numbers[2:3]
            case Which.FROM_THIRD:
                return numbers[2:]
            case Which.LAST_BUT_ONE:
                return numbers[-2:-1]
            case Which.INNER:
                return numbers[1:-1]
            case Which.INNER_BUT_ONE:
                return numbers[1:-2]


@dataclass(frozen=True, slots=True)
class Nodes:
    """A class of nodes of a row."""

    role: Role
    which: Which = Which.EVERY


@dataclass(frozen=True, slots=True)
class Watch:
    """Nodes that gauges may read, and what such a gauge is called.

    ``apart``: a gauge that reads a node of some number acts on nodes of that number alone; so the lock table speaks of
    each number by itself, and its rows tell of one node what they tell of all.
    ``level``: the least reading that counts. ``locks``: the classes of nodes that such gauges act on, and no others
    (none named: any).
    """

    label: str
    nodes: Nodes
    apart: bool = False
    level: int = 1
    locks: tuple[Nodes, ...] = ()


@dataclass(frozen=True, slots=True)
class LockRow:
    """One row of the lock table.

    ``reads``: for each watch, whether the nodes read its level or more: hold something, where that is 1 (where the
    scheme ``reads_full``: whether they are full); ``locked``: for each class of nodes (None: the split needs neither,
    so a layout may have it either way, and the simulator decides).
    """

    reads: tuple[bool, ...]
    locked: tuple[bool | None, ...]


@dataclass(frozen=True)
class Scheme:
    """One way to split a stream.

    ``even_for``, ``leaves``: what it does, in the words of specs. ``outputs_least``: fewest targets it is for;
    ``outputs_most``: rules, stack limit -> most.
    ``first``: number of the row's first node, above which the source bin stands: 1, or 0 or less where nodes without
    a B stand before T1; those before T0 are called by the names ``ahead``.
    ``watches``, ``classes``, ``table``: the lock table; nodes of no class may be locked or not, as long as
    they are not always.
    ``windows``: the delays; ``stages``: ticks that the longest chain of parts may take.
    ``reads_full``: gauges pass a full reading only, by a side input of the full level at all times.
    ``brimmed``: every T starts full but for one item. ``held``: outputs, rules, stack limit of the item -> items that
    nodes may hold at rest, beyond what they start with, after loads of k N items.
    ``quickest``: rules, outputs, windows -> no load of one item a target is delivered in fewer ticks (where nodes hold
    items back: a second such load).
    ``promise``: schemes are searched in this order, lower first.
    ``joined``: a scheme of splits put together, which is not searched for, and has no lock table of its own: outputs ->
    how many rows it is made of (0: it can't be).
    """

    name: str
    about: str
    even_for: tuple[EvenFor, ...]
    leaves: Leftovers
    first: int
    watches: tuple[Watch, ...]
    classes: tuple[Nodes, ...]
    table: tuple[LockRow, ...]
    windows: WindowsOf
    stages: Callable[[Rules], int]
    held: HeldOf
    quickest: Callable[[Rules, int, Windows], int]
    promise: int
    outputs_least: int = 1
    outputs_most: Callable[[Rules, int], int] = any_number
    reads_full: bool = False
    brimmed: bool = False
    ahead: tuple[str, ...] = ()
    joined: Callable[[int], int] | None = None

    def numbers(self, role: Role, outputs: int) -> range:
        """The numbers of the nodes of a role."""
        return range(self.first if role == "T" else 1, outputs + 1)

    def members(self, nodes: Nodes, outputs: int) -> range:
        """The numbers of the nodes of a class."""
        return nodes.which.of(self.numbers(nodes.role, outputs))

    def row_length(self, outputs: int) -> int:
        """Nodes T of a row."""
        return len(self.numbers("T", outputs))

    def gauges(self, outputs: int) -> int:
        """Gauges that no layout can do without: the locks depend on each node that is read."""
        return sum(len(self.members(watch.nodes, outputs)) for watch in self.watches)

    def lockable(self) -> tuple[Nodes, ...]:
        """The classes of which some row of the table locks the nodes: those that do the splitting."""
        return tuple(nodes for i, nodes in enumerate(self.classes) if any(row.locked[i] for row in self.table))

    def start(self, item: str, stack: int, rules: Rules) -> Holds:
        """What each T starts with, of an item with that stack limit."""
        if not self.brimmed:
            return ()
        last = ((item, stack - 1),) if stack > 1 else ()
        return (*((item, stack),) * (rules.node_slots - 1), *last)

    def name_of(self, role: Role, number: int) -> str:
        """A node's name: "T0", "B1", or what the scheme calls it."""
        return f"{role}{number}" if number >= 0 else self.ahead[number - self.first]

    def state_words(self, watch: Watch) -> tuple[str, str]:
        """What is said of a node of that watch, when its reading does not count, and when it does."""
        if self.reads_full:
            return "is not full", "is full"
        if watch.level > 1:
            return f"reads less than {watch.level}", f"reads {watch.level} or more"
        return "is empty", "holds something"

    def words(self, nodes: Nodes, outputs: int) -> str:
        """A class of nodes by names: "T0", "B1 to B3"."""
        names = [self.name_of(nodes.role, i) for i in self.members(nodes, outputs)]
        return names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}" if names else f"no {nodes.role}"


def common_windows(scheme: Scheme, rules: Rules, outputs: int, handovers: Iterable[int]) -> Windows:
    """The delays with which the split works under all of ``handovers`` (a window may be empty)."""
    first, *others = [scheme.windows(rules, outputs, handover) for handover in handovers]
    return {label: reduce(DelayWindow.within, (one[label] for one in others), first[label]) for label in first}


def by_the_source(rules: Rules, outputs: int, _windows: Windows) -> int:
    """The bound that the first node sets: it takes one item a period, from tick 1; the last one it takes is taken by a
    B in the same tick at the earliest and pushed into a target a period later."""
    return 1 + rules.period * outputs


def by_the_lock(rules: Rules, outputs: int, _windows: Windows) -> int:
    """The bound of rows whose B nodes hold an item each from the load before: they push as soon as their lock opens.

    It opens a gauge's delay, at the least, after the load has come through to where a gauge reads, one node after the
    other or one item after the other: N - 1 periods, or handovers where these are shorter, after the first move.
    """
    return 1 + min(rules.period, rules.handover) * (outputs - 1) + rules.gauge_delay


def one_period(rules: Rules) -> int:
    """Chains of parts answer within a period."""
    return rules.period


def nothing(_outputs: int, _rules: Rules, _stack: int) -> int:
    """No item stays in a node."""
    return 0
