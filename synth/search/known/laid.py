"""Rows laid by construction: at the ends the same few parts every time, a lock line along the outside, any number
between.

What is between repeats, corners included; a row that bends has its ends side by side. So rows of any length fit sites
that are as deep as they are wide, where a search finds nothing. Heights are told from the height of T: a row fed from
the top stands one layer higher than one fed from the side. Lines are as long as the default rulebook lets them be.

Three shapes, seen from above (T a node of the row, + the lock line around it, x the parts at its ends):

- *ring*, for rows that end empty or hold back N (``ring``): the ends meet at the west side;
- *straight*, for short ones that end empty (``straight``);
- *horseshoe*, for gated rows (``horseshoe``): the legs point north, the gate stands at the head of one of them.

    ring                horseshoe
    + + + + + +         x x x x x x x .
    + T T T T +         x x x x x x x .
    x T . . T +         + T . x x x x .
    x x . . T +         + T x x x C T +
    x x . . T +         + T T T T T T +
    x x T T T +         + + + + + + + +

What comes of it is a candidate like any other: the simulator decides (tests/test_known_laid.py runs them all).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import pairwise
from typing import Final

from sim.world.geometry import HORIZONTAL, Cell, Direction, step
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.rulebook import default_rules, load_rulebook
from synth.ask.spec import Face
from synth.model.decode import reading_order
from synth.search.known.build import STREAM
from synth.search.known.constructed import Constructed

Flat = tuple[int, int]
"""A cell seen from above."""

BURST: Final = "burst row"
FIRST: Final = {BURST: 0, "headed undrained row": 0, "undrained row": 1}
"""Schemes that are laid along a ring, and the number of their first T."""
GATED: Final = "gated row"
AROUND: Final = 3
"""Cells of a straight row's lock line on its way around the end of the row."""
NARROWEST: Final = (5, 6)
"""Width and depth of the smallest ring."""
LEGS_LEAST: Final = 2
INNER_LEAST: Final = 3
L_BEYOND: Final = 6
"""Of a horseshoe: the leg's length below the gate; the columns between the legs; cells that L is longer than those."""


@cache
def _full() -> int:
    """Cells of line that a full source keeps alive, the first one included (rulebook section 4)."""
    return default_rules().reach


class LaidRows(Constructed):
    """All rows that can be laid."""

    def made(self, scheme: str, face: Face, outputs: int) -> Iterator[tuple[str, Layout]]:
        """In every shape there is."""
        if scheme == BURST and outputs <= _full() - AROUND:
            yield "laid straight", straight(face, outputs)
        if scheme in FIRST:
            yield from (("laid along a ring", one) for one in rings(scheme, face, outputs))
        if scheme == GATED:
            yield from (("laid along a horseshoe", one) for one in horseshoes(face, outputs))


def rings(scheme: str, face: Face, outputs: int) -> Iterator[Layout]:
    """Rows of that length around a ring, in every shape there is."""
    first = FIRST[scheme]
    around, odd = divmod(outputs + 16 - first, 2)
    for width in range(NARROWEST[0], around + odd - NARROWEST[1] + 1):
        if (layout := ring(scheme, face, width, around + odd - width, gap_longer=bool(odd))) is not None:
            yield layout


def horseshoes(face: Face, outputs: int) -> Iterator[Layout]:
    """Gated rows of that length, in every shape there is."""
    for legs in range(LEGS_LEAST, (outputs - INNER_LEAST - 3) // 2 + 1):
        if (layout := horseshoe(face, legs, outputs - 2 * legs - 3)) is not None:
            yield layout


# -- straight ---------------------------------------------------------------------------------------------------------


def straight(face: Face, outputs: int) -> Layout:
    """A burst row along y = 1. What T0's inverter says runs behind it to the gauge on TN; the line that both feed is
    turned round there, and the lock line comes back in front."""
    last = outputs
    way = [(x, 1) for x in range(last + 1)]
    lay = _Laying(face, way, way[1:])
    lay.put(_gauge(0, 2, 0, "N"), _support(0, 3, 0), _inverter(1, 3, 0, "W"))
    lay.put(*(_line(x, 3, 0) for x in range(2, last + 1)), _gauge(last, 2, 0, "N"))
    around = [(last + 1, y) for y in (2, 1, 0)]
    arm = _inverter(last + 1, 3, -1, "W"), [*around, *((x, 0) for x in range(last, 0, -1))]
    layout = lay.finished([arm], set(around))
    assert layout is not None, "its line is not too long"
    return layout


# -- ring -------------------------------------------------------------------------------------------------------------


def ring(scheme: str, face: Face, width: int, depth: int, *, gap_longer: bool = False) -> Layout | None:
    """A row along the ring one cell inside a box of that width and depth, from the gauge on its west side around by the
    north and the east; with ``gap_longer`` it ends a cell earlier, and a support passes on what its last gauge says.
    None: its lock line would be too long, or take too long.

    Where T0 is read (burst row): L, a line that is live when T0 is empty or TN holds something, energises the cell
    below it; two inverters there say the opposite, and each drives one arm of the lock line. Else L says that TN holds.
    """
    first = FIRST[scheme]
    way = _around(1, 1, width - 2, depth - 2)
    begin, end = way.index((1, 4)), (2 + gap_longer, 1)
    way = way[begin:] + way[:begin]
    way = way[: way.index(end) + 1]
    lay = _Laying(face, way, way[1 - first :])
    if scheme == BURST:
        lay.put(_gauge(1, 3, 0, "S"), _support(1, 2, 0), _inverter(0, 2, 0, "E"))
    lay.put(_gauge(1 + gap_longer, 1, 0, "W"), *([_support(1, 1, 0)] if gap_longer else ()))
    lay.put(_line(0, 1, 0), _support(0, 1, -1))
    box = _around(0, 0, width, depth)
    north = [*box[box.index((0, 3)) :], *box[: box.index((1, 0))]]
    south = [*reversed(box[: box.index((1, 0)) + 1]), *reversed(box[box.index((0, 3)) :])]
    low = {(0, 3), *((x, 0) for x in range(1, 2 + gap_longer))}
    corners = {(0, depth - 1), (width - 1, depth - 1), (width - 1, 0)}
    arms = (_inverter(0, 2, -1, "S"), north), (_inverter(0, 0, -1, "N"), south)
    return lay.finished(arms, low, corners)


def _around(x: int, y: int, width: int, depth: int) -> list[Flat]:
    """The rim of a rectangle, from its low corner up along the west side, and on."""
    far, top = x + width - 1, y + depth - 1
    west, north = [(x, b) for b in range(y, top)], [(a, top) for a in range(x, far)]
    return west + north + [(far, b) for b in range(top, y, -1)] + [(a, y) for a in range(far, x, -1)]


# -- horseshoe --------------------------------------------------------------------------------------------------------


def horseshoe(face: Face, legs: int, inner: int) -> Layout | None:
    """A gated row of 2 * ``legs`` + ``inner`` + 3 outputs: T1 to the corner down the east leg, west, and up the west
    leg, ``inner`` columns between; C, G and T0 at the head of the east leg. None: its lock line would be too long.

    X, two lines side by side: the one beside T0's gauge is live when T0 holds something or G reads 2. NX, the inverter
    below it, feeds two lines: one through a relay, with what the gauge on T(N-1) says, locks G; the other, L, with what
    the gauge on TN says, is turned round at both its ends, for the two arms of the lock line.
    """
    if inner > _full() - L_BEYOND:
        return None
    west, east = -inner - 1, 1
    down, up = [(east, -y) for y in range(legs + 1)], [(west, -y) for y in range(legs, -2, -1)]
    gate, between = [(0, -1), (0, 0)], [(x, -legs) for x in range(0, west, -1)]
    way = [*gate, *down, *between, *up]
    lay = _Laying(face, way, way[3:])
    # X, and NX below it; supports that keep lines apart which would link up a step
    lay.put(_gauge(0, 1, 0, "N"), _line(0, 2, 0), _gauge(1, 1, 0, "N"), _line(1, 2, 0), _inverter(1, 3, -1, "S"))
    lay.put(_support(0, 3, 0), _support(2, 2, 0))
    # the lock of G
    lay.put(_line(0, 3, -1), _line(-1, 3, -1), *(_line(-2, y, -1) for y in (3, 2, 1)), _line(-2, 0, 0))
    lay.put(_relay(-1, 0, 0, "E"), _gauge(-inner, 0, 0, "E"))
    if inner > INNER_LEAST:
        lay.put(_relay(-inner + 1, 0, 0, "E"), *(_line(x, 0, 0) for x in range(-inner + 2, -2)))
    # L
    lay.put(_line(1, 4, -1), *(_line(x, 5, -1) for x in range(1, west - 1, -1)), _line(west, 4, 0))
    lay.put(_gauge(west, 2, 0, "N"), _relay(west, 3, 0, "N"), _line(2, 4, 0))
    # the arms of the lock line
    head_west, head_east = [(west - 1, 3), (west - 1, 2)], [(2, 2), (2, 1), (2, 0)]
    rim = [(west - 1, y) for y in range(1, -legs - 1, -1)] + [(x, -legs - 1) for x in range(west - 1, 2)]
    rim += [(2, y) for y in range(-legs - 1, 0)]
    arms = (
        (_inverter(west - 1, 4, -1, "E"), [*head_west, *rim]),
        (_inverter(2, 3, -1, "N"), [*head_east, *reversed(rim)]),
    )
    return lay.finished(arms, {*head_west, *head_east})


# -- laying -----------------------------------------------------------------------------------------------------------


@dataclass
class _Laying:
    """A row in the making. ``way``: its T nodes in order; ``served``: those that have a B; heights are told from T."""

    face: Face
    way: Sequence[Flat]
    served: Sequence[Flat]
    parts: dict[Cell, Part] = field(default_factory=dict)

    def __post_init__(self) -> None:
        outlets = [_towards(one, other) for one, other in pairwise(self.way)]
        self.put(Bin((*self.way[0], 1)))
        self.put(*(Node((*at, 0), out) for at, out in zip(self.way, [*outlets, outlets[-1]], strict=True)))

    def put(self, *parts: Part) -> None:
        """Each in its cell. Raises ValueError for a cell that is taken."""
        for part in parts:
            if part.at in self.parts:
                raise ValueError(f"{part.at} is taken")
            self.parts[part.at] = part

    def finished(
        self, arms: Sequence[tuple[Inverter, Sequence[Flat]]], low: Set[Flat], corners: Set[Flat] = frozenset()
    ) -> Layout | None:
        """With its lock line, B nodes and furnaces. None: an arm of it would be too long.

        ``arms``: one or two, each an inverter and where lines go from there; they come by all that are served, in as
        few parts as can be. ``low``: cells of theirs that lie a layer lower; ``corners``: those of the way around it,
        before each of which a relay may begin the line anew.
        """
        halves = self._halves(*([*_lengths(*arm, low, corners)] for arm in arms))
        if halves is None:
            return None
        self.put(*halves)
        targets = [self._drop(at) for at in self.served]
        for part in list(self.parts.values()):
            if isinstance(part, (Line, Gauge, Relay)):
                self.parts.setdefault(step(part.at, "D"), Support(step(part.at, "D")))
        up = 2 if self.face == "top" else 1
        parts = [replace(part, at=_raised(part.at, up)) for part in self.parts.values()]
        item, burn = next(iter(load_rulebook().burns.items()))  # a spec puts its own in its place (``matching``)
        stream = Stream(STREAM, item, _raised((*self.way[0], 1), up), tuple(_raised(at, up) for at in targets))
        return Layout(
            title="",
            size=(0, 0, 0),  # of the box around it, once that is at the origin
            items={item: ItemKind(burn=burn)},
            parts=tuple(sorted((part for part in parts if part.at[2] >= 0), key=lambda part: reading_order(part.at))),
            streams=(stream,),
        )

    def _halves(self, some: Sequence[_Arm], others: Sequence[_Arm] = ((),)) -> list[Part] | None:
        """Of two arms of all lengths (of one, and none), those that come by all that are served with the fewest
        relays, which take time; then the fewest parts; then as even as can be."""
        pairs: list[tuple[_Arm, _Arm]] = []
        ends = [(arm, _passed(arm)) for arm in others]
        for one in some:
            rest = set(self.served) - _passed(one)
            other = next((arm for arm, passed in ends if rest <= passed), None)
            if other is not None and not {part.at for part in one} & {part.at for part in other}:
                pairs.append((one, other))
        best = min(pairs, key=_cost, default=None)
        return None if best is None else [*best[0], *best[1]]

    def _drop(self, at: Flat) -> Cell:
        """Put the node's B, and what it feeds; where that is. From the side: below a line of the lock, which then
        energises a furnace."""
        below = (*at, -1)
        if self.face == "top":
            self.put(Node(below, "D"), Furnace(step(below, "D")))
            return step(below, "D")
        for direction in HORIZONTAL:
            target = step(below, direction)
            if isinstance(self.parts.get(step(target, "U")), Line) and target not in self.parts:
                self.put(Node(below, direction), Furnace(target))
                return target
        raise ValueError(f"no line of the lock stands beside {at}")


_Arm = Sequence[Part]
"""An inverter, and the lines from it on, with a relay maybe; of no length: nothing."""


def _lengths(inverter: Inverter, cells: Sequence[Flat], low: Set[Flat], corners: Set[Flat]) -> Iterator[_Arm]:
    """Arms of every length that can be, none included."""
    yield ()
    for length in range(1, min(len(cells), 2 * _full() + 1) + 1):
        if (lines := _lines(cells[:length], low, corners)) is not None:
            yield inverter, *lines


def _lines(cells: Sequence[Flat], low: Set[Flat], corners: Set[Flat]) -> list[Part] | None:
    """Lines along the cells; where they are too many, with one relay before the last corner that can be reached. None:
    too many all the same."""
    parts: list[Part] = [Line((*at, -1 if at in low else 0)) for at in cells]
    if len(parts) <= _full():
        return parts
    for k in range(min(_full(), len(parts) - 2), 0, -1):
        if cells[k + 1] in corners and not low & {cells[k - 1], cells[k]}:
            parts[k] = _relay(*cells[k], 0, _towards(cells[k], cells[k + 1]))
            return parts if len(parts) - k - 1 <= _full() else None
    return None


def _cost(pair: tuple[_Arm, _Arm]) -> tuple[int, int, int]:
    parts = [*pair[0], *pair[1]]
    return sum(isinstance(part, Relay) for part in parts), len(parts), max(map(len, pair))


def _passed(arm: Sequence[Part]) -> set[Flat]:
    """What an arm locks: all that stands beside its lines at the height of T."""
    lines = [part.at for part in arm if isinstance(part, Line) and part.at[2] == 0]
    return {step(at, direction)[:2] for at in lines for direction in HORIZONTAL}


def _raised(at: Cell, up: int) -> Cell:
    return (at[0], at[1], at[2] + up)


def _towards(one: Flat, other: Flat) -> Direction:
    """The direction from a cell to one beside it."""
    return next(direction for direction in HORIZONTAL if step((*one, 0), direction) == (*other, 0))


def _line(x: int, y: int, z: int) -> Line:
    return Line((x, y, z))


def _support(x: int, y: int, z: int) -> Support:
    return Support((x, y, z))


def _gauge(x: int, y: int, z: int, output: Direction) -> Gauge:
    return Gauge((x, y, z), output)


def _relay(x: int, y: int, z: int, output: Direction) -> Relay:
    return Relay((x, y, z), output, 1)


def _inverter(x: int, y: int, z: int, mount: Direction) -> Inverter:
    return Inverter((x, y, z), mount)
