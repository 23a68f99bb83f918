"""When nodes are locked, exactly: a truth table over the readings of the containers that gauges look into.

Each container's reading starts as the whole range from empty to full. Interval analysis over the laws of the signal
parts tells which nodes are locked for every reading of such a box; where that leaves one open the box is cut in two. A
box of single readings leaves nothing open, since without loops and latches the settled signals follow from the
readings alone. So every leaf is exact, and the cuts that remain are those that the laws make.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
import numpy.typing as npt

from sim.analysis.workings.circuit import Circuit, Cone
from sim.world.geometry import Cell
from sim.world.parts import Gauge, Inverter
from sim.world.signals.field import Field
from sim.world.signals.wants import relay_input, side_input

CONTAINERS_MOST: Final = 6
"""Containers that a table may depend on; what hangs on more is left untold."""
BOXES_MOST: Final = 2_000
"""Boxes of readings that are looked at for one cone before it is left untold."""
ENTRIES_MOST: Final = 20_000
"""Entries of a table."""
Range = tuple[int, int]
"""The least and the most of a reading, both included."""
Box = tuple[Range, ...]
Bits = npt.NDArray[np.bool_]


class TooMuch(Exception):
    """A table would be too large to be of use to a reader."""


@dataclass(frozen=True)
class Truth:
    """``locked``: an entry for each combination of ``classes``, ranges of readings that make no difference; one
    axis for each of ``containers``, which all make a difference."""

    containers: tuple[Cell, ...]
    classes: tuple[tuple[Range, ...], ...]
    locked: Bits

    @property
    def key(self) -> tuple[tuple[Cell, ...], tuple[tuple[Range, ...], ...], bytes]:
        """The same for nodes that are locked under the same condition."""
        return self.containers, self.classes, self.locked.tobytes()


def truths_of(circuit: Circuit, cone: Cone, nodes: Sequence[int]) -> list[Truth]:
    """The truth table of each node, all of one cone. Raises TooMuch. Time: boxes times parts times their fields."""
    reads = circuit.wiring.reads
    containers = tuple(sorted({cell for part in cone.parts if (cell := reads[part]) is not None}))
    if len(containers) > CONTAINERS_MOST:
        raise TooMuch
    evaluation = _Evaluation(circuit, cone, containers)
    full = circuit.rules.reach
    leaves = list(_leaves(evaluation, nodes, ((0, full),) * len(containers), full))
    starts = [sorted({box[axis][0] for box, _ in leaves}) for axis in range(len(containers))]
    shape = tuple(map(len, starts))
    if np.prod(shape, dtype=np.int64) * len(nodes) > ENTRIES_MOST:
        raise TooMuch
    table = np.zeros((len(nodes), *shape), dtype=np.bool_)
    for box, locked in leaves:
        spans = (_span(cuts, span) for cuts, span in zip(starts, box, strict=True))
        for place in product(*spans):
            index: tuple[slice | int, ...] = (slice(None), *place)
            table[index] = locked
    classes = [tuple(zip(cuts, [*(cut - 1 for cut in cuts[1:]), full], strict=True)) for cuts in starts]
    return [_merged(containers, classes, table[i]) for i in range(len(nodes))]


class _Evaluation:
    """Interval analysis of one cone for boxes of readings."""

    def __init__(self, circuit: Circuit, cone: Cone, containers: Sequence[Cell]) -> None:
        self.cone, self.containers = cone, containers
        self.low, self.high = Field(circuit.wiring, circuit.rules.reach), Field(circuit.wiring, circuit.rules.reach)
        self.seen = 0
        for i in range(len(circuit.wiring.parts)):
            self.low.set_out(i, circuit.least.out[i])
            self.high.set_out(i, circuit.most.out[i])

    def run(self, box: Box) -> None:
        """Set both fields to what the readings of a box can come to. Raises TooMuch after too many boxes."""
        self.seen += 1
        if self.seen > BOXES_MOST:
            raise TooMuch
        readings = dict(zip(self.containers, box, strict=True))
        for part in self.cone.parts:
            low, high = self._range(part, readings)
            self.low.set_out(part, low)
            self.high.set_out(part, high)

    def _range(self, i: int, readings: Mapping[Cell, Range]) -> Range:
        """What a part can want, its causes being in their ranges (rulebook section 4, by
        ``sim.world.signals.wants``)."""
        low, high, wiring = self.low, self.high, self.low.wiring
        match wiring.parts[i]:
            case Inverter():
                solid = wiring.input_solid[i]
                is_dark = solid >= 0 and high.energised[solid]
                return 0 if is_dark else low.reach, 0 if solid >= 0 and low.energised[solid] else low.reach
            case Gauge():
                cell = wiring.reads[i]
                least, most = (0, 0) if cell is None else readings[cell]
                return (
                    least if side_input(high, i) <= least else 0,
                    most if side_input(low, i) <= most else 0,
                )
            case _:
                return (low.reach if relay_input(low, i) else 0, low.reach if relay_input(high, i) else 0)


def _leaves(
    evaluation: _Evaluation, nodes: Sequence[int], box: Box, full: int
) -> Iterator[tuple[Box, tuple[bool, ...]]]:
    """Boxes in which every node is settled, with which nodes are locked there; they part the whole."""
    evaluation.run(box)
    low = tuple(evaluation.low.locked[node] for node in nodes)
    if low == tuple(evaluation.high.locked[node] for node in nodes):
        yield box, low
        return
    axis, cut = _cut(box, full)
    least, most = box[axis]
    for half in ((least, cut - 1), (cut, most)):
        yield from _leaves(evaluation, nodes, (*box[:axis], half, *box[axis + 1 :]), full)


def _cut(box: Box, full: int) -> tuple[int, int]:
    """Which axis to cut, and the first reading of its upper half: empty from the rest first, then full from the rest,
    then halves of the widest."""
    for cut in (1, full):
        for axis, (least, most) in enumerate(box):
            if least < cut <= most:
                return axis, cut
    axis = max(range(len(box)), key=lambda one: box[one][1] - box[one][0])
    return axis, (box[axis][0] + box[axis][1] + 1) // 2


def _span(cuts: Sequence[int], span: Range) -> list[int]:
    return [i for i, cut in enumerate(cuts) if span[0] <= cut <= span[1]]


def _merged(containers: Sequence[Cell], classes: Sequence[tuple[Range, ...]], table: Bits) -> Truth:
    """Without classes that make no difference to their neighbours, and without containers that make none at all."""
    kept_cells, kept_classes = [], []
    for axis in reversed(range(len(containers))):
        size = table.shape[axis]
        differs = [
            i for i in range(1, size) if not np.array_equal(table.take(i, axis), table.take(i - 1, axis))
        ]
        firsts = [0, *differs]
        table = table.take(firsts, axis)
        if len(firsts) == 1:
            table = np.asarray(table.take(0, axis))
            continue
        ends = [*(first - 1 for first in differs), size - 1]
        kept_cells.append(containers[axis])
        kept_classes.append(
            tuple((classes[axis][a][0], classes[axis][b][1]) for a, b in zip(firsts, ends, strict=True))
        )
    return Truth(tuple(reversed(kept_cells)), tuple(reversed(kept_classes)), np.array(table, order="C"))
