"""The boxes of a site: which shapes there are, in which order, and what each one asks of the model."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import product

from sim.world.geometry import HORIZONTAL, Cell, Direction
from sim.world.items.store import Store
from synth.ask.spec import Spec, StreamSpec
from synth.model.grid import Grid
from synth.model.question import Question, StreamQuestion
from synth.schemes.registry import scheme_of
from synth.schemes.scheme import Windows, common_windows

Size = tuple[int, int, int]


def volume(size: Size) -> int:
    """Cells of a box."""
    w, d, h = size
    return w * d * h


@dataclass(frozen=True, slots=True)
class Plot:
    """A box at a place in the site. Every box stands on the ground (a build that floats can be let down)."""

    origin: Cell
    size: Size

    def local(self, cell: Cell) -> Cell:
        """A cell of the site in the box's coordinates."""
        x, y, z = (c - o for c, o in zip(cell, self.origin, strict=True))
        return x, y, z

    def __contains__(self, cell: Cell) -> bool:
        return all(0 <= c < s for c, s in zip(self.local(cell), self.size, strict=True))


def is_open(spec: Spec) -> bool:
    """Nothing in the site tells one place or direction from another: no blocked cell, no pin."""
    return not spec.blocked and all(s.source is None and not s.outputs_at for s in spec.streams)


def fewest_layers(spec: Spec) -> int:
    """Layers that the item network takes: bin, T, B, and a furnace below B where it is fed from the top."""
    return 4 if any(stream.enters == "top" for stream in spec.streams) else 3


def row_length(spec: Spec) -> int:
    """Nodes T of a row."""
    return scheme_of(spec).row_length(spec.outputs)


def sizes(spec: Spec, measure: Callable[[Size], float], *, most_cells: int | None = None) -> list[Size]:
    """Every shape that fits the site and has room for the row, by ``measure``, then volume, then shape.

    On an open site a shape and the one turned by a right angle are the same: the wider one stands for both.
    ``most_cells``: only boxes of at most so many cells.
    """
    width, depth, height = spec.size
    long, low, row = max(width, depth), fewest_layers(spec), row_length(spec)
    most = most_cells or long * long * height
    found = []
    for w in range(1, min(long, most // low) + 1):
        for d in range(1, min(long, most // (low * w)) + 1):
            fits = (w <= width and d <= depth) or (is_open(spec) and d <= width and w <= depth)
            roomy = (max(w, d) if spec.row == "straight" else w * d) >= row
            if fits and roomy and (w >= d or not is_open(spec)):
                found += [(w, d, h) for h in range(low, min(height, most // (w * d)) + 1)]
    return sorted(found, key=lambda s: (measure(s), volume(s), s))


def plots(spec: Spec, size: Size) -> list[Plot]:
    """The places of a box of that size that differ: one on an open site."""
    if is_open(spec):
        return [Plot((0, 0, 0), size)]
    w, d, _ = size
    places = [
        Plot((x, y, 0), size) for x, y in product(range(spec.size[0] - w + 1), range(spec.size[1] - d + 1))
    ]
    different: dict[object, Plot] = {}
    for plot in places:
        if _holds_pins(spec, plot):
            pinned = tuple((source_cells(spec, s, plot), tuple(map(plot.local, s.outputs_at))) for s in spec.streams)
            different.setdefault((_blocked_in(spec, plot), pinned), plot)
    return list(different.values())


def question_for(spec: Spec, plot: Plot, within: Windows, straight: Direction | None = None) -> Question:
    """What the spec asks of one box, with the delays ``within`` these windows."""
    rules, scheme = spec.rules, scheme_of(spec)
    return Question(
        grid=Grid(plot.size, _blocked_in(spec, plot)),
        origin=plot.origin,
        site=plot.size if is_open(spec) else spec.size,
        outputs=spec.outputs,
        streams=tuple(
            StreamQuestion(s.name, s.enters, source_cells(spec, s, plot), tuple(map(plot.local, s.outputs_at)))
            for s in spec.streams
        ),
        reach=rules.reach,
        inverter_delay=rules.inverter_delay,
        gauge_delay=rules.gauge_delay,
        relay_step=rules.relay_step,
        stages=scheme.stages(rules),
        windows=within,
        most={kind: limit.most for kind, limit in spec.limits.items() if limit.most is not None},
        straight=straight,
        unbent=spec.row == "straight",
        levels=rules.reach,
        reading=reading_of(spec),
        break_symmetry=is_open(spec),
        scheme=scheme,
    )


def reading_of(spec: Spec) -> int:
    """The level that a gauge reads of a node with one item (where streams differ: the lowest)."""
    rules = spec.rules
    nodes = (Store(rules.node_slots, spec.stack_of, ((stream.item, 1),)) for stream in spec.streams)
    return min(node.fill_level(rules.reach) for node in nodes)


def windows(spec: Spec, handovers: tuple[int, ...]) -> Windows:
    """The delays from gauges to locks with which the split works under all of ``handovers`` (a window may be empty)."""
    return common_windows(scheme_of(spec), spec.rules, spec.outputs, handovers)


def rows_of(plot: Plot, nodes: int) -> Iterator[Direction]:
    """The directions in which a straight row of so many nodes fits the box, one of each pair of opposite ones."""
    for direction in HORIZONTAL[::2]:
        if plot.size[0 if direction == "E" else 1] >= nodes:
            yield direction


def _blocked_in(spec: Spec, plot: Plot) -> frozenset[Cell]:
    return frozenset(plot.local(cell) for cell in spec.blocked if cell in plot)


def _holds_pins(spec: Spec, plot: Plot) -> bool:
    pinned = [cell for stream in spec.streams for cell in stream.outputs_at]
    sourced = [source_cells(spec, stream, plot) for stream in spec.streams]
    return all(cell in plot for cell in pinned) and all(cells is None or cells for cells in sourced)


def source_cells(spec: Spec, stream: StreamSpec, plot: Plot) -> frozenset[Cell] | None:
    """Where the source may stand, in the box's coordinates; None: anywhere."""
    if stream.source is None:
        return None
    if isinstance(stream.source, tuple):
        return frozenset({plot.local(stream.source)} if stream.source in plot else ())
    axis, edge = _edge(spec, stream.source)
    cells = product(*(range(o, o + s) for o, s in zip(plot.origin, plot.size, strict=True)))
    return frozenset(plot.local((x, y, z)) for x, y, z in cells if (x, y, z)[axis] == edge)


def _edge(spec: Spec, side: Direction) -> tuple[int, int]:
    """The axis of a side of the site, and the coordinate of its outermost cells."""
    axis = {"E": 0, "W": 0, "N": 1, "S": 1, "U": 2, "D": 2}[side]
    return axis, spec.size[axis] - 1 if side in "ENU" else 0
