"""The simulator's answer for one filling: design checks, who acts on whom, the settled field."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache

from burst_lock_table import LockRow
from sim.analysis.checks.standing import no_support, reads_nothing
from sim.world.geometry import SIDES, Cell, step
from sim.world.layout import ItemKind, Layout
from sim.world.parts import Gauge, Node, Part, Relay, Support
from sim.world.rulebook import default_rules
from sim.world.signals.field import Field
from sim.world.signals.settling import settle
from sim.world.signals.structure import faces_a_side, read_container
from sim.world.signals.wiring import Wiring
from sim.world.world import World

SIZE = (9, 9, 9)
"""A site that has room for every box; the laws do not ask for it."""


def layout_of(parts: Iterable[Part]) -> Layout:
    """The parts and nothing else."""
    return Layout("", SIZE, parts=tuple(parts))


def refusals(parts: Mapping[Cell, Part], ends: Mapping[Cell, str], undecided: Sequence[Cell]) -> frozenset[str]:
    """The design checks, and laws of the model's scope, that refuse every filling that has these parts so far.

    ``ends``: where the T0 and TN nodes stand. The undecided cells are filled with what the check in question likes
    best: no more parts stand when a cell is less solid, no more gauges read when it holds no container; and a relay
    that is faced stays so. What a check finds nevertheless, it finds in every completion. Exact when nothing is
    undecided.
    """
    found = set()
    if any(no_support(layout_of([*parts.values(), *map(Support, undecided)]), default_rules())):
        found.add("support")
    if any(isinstance(part, Gauge) for part in parts.values()) and _misread(parts, ends, undecided):
        found.add("reading")
    if any(isinstance(part, Relay) and is_faced(part, parts) for part in parts.values()):
        found.add("latch")
    return frozenset(found)


def _misread(parts: Mapping[Cell, Part], ends: Mapping[Cell, str], undecided: Sequence[Cell]) -> bool:
    """Some gauge reads nothing, or (the model's scope) something other than T0 or TN."""
    layout = layout_of([*parts.values(), *(Node(cell, "D") for cell in undecided)])
    if any(reads_nothing(layout, default_rules())):
        return True
    read = {read_container(layout.by_cell, part) for part in parts.values() if isinstance(part, Gauge)}
    return not read <= {*ends, *undecided}


def is_faced(relay: Relay, parts: Mapping[Cell, Part]) -> bool:
    """A relay or gauge faces one of the relay's sides, so that it could latch it."""
    beside = [parts.get(step(relay.at, side)) for side in SIDES[relay.output]]
    return any(isinstance(other, (Relay, Gauge)) and faces_a_side(other, relay) for other in beside)


# -- feedback ---------------------------------------------------------------------------------------------------------


def feeds_back(wiring: Wiring) -> bool:
    """Some signal part can act on itself, whatever the state: parts are taken away that none of the rest acts on
    (Kahn 1962); in the end some are left just when there is a cycle."""
    left = {part: _acted_on(wiring, part) for part in range(len(wiring.parts))}
    while left:
        driven = set().union(*left.values())
        free = [part for part in left if part not in driven]
        if not free:
            return True
        for part in free:
            del left[part]
    return False


def _acted_on(wiring: Wiring, part: int) -> set[int]:
    """The signal parts that a part acts on by itself or through lines and solid cells."""
    reached = set(wiring.readers_of_part[part])
    lines = list(wiring.feeds_lines[part])
    for solid in wiring.strong_into[part]:
        reached.update(wiring.readers_of_solid[solid])
        lines += wiring.lines_of_solid[solid]
    seen = set(lines)
    for line in lines:  # grows while it is gone through
        reached.update(wiring.readers_of_line[line])
        for solid in wiring.weak_into[line]:
            reached.update(wiring.readers_of_solid[solid])
        fresh = [other for other in wiring.linked[line] if other not in seen]
        seen.update(fresh)
        lines += fresh
    return reached


# -- the field --------------------------------------------------------------------------------------------------------


@cache
def reading_of(items: int, reach: int, stack: int) -> int:
    """What a gauge reads at a node that holds so many items of a kind with that limit."""
    node = Node((0, 0, 0), "D", holds=(("clay", items),) if items else ())
    world = World(Layout("", SIZE, {"clay": ItemKind(stack=stack)}, (node,), rules={"reach": reach}))
    return world.reading(node.at)


def settled_fields(
    wiring: Wiring, rows: Sequence[LockRow], ends: Mapping[Cell, str], reach: int, stack: int
) -> list[dict[Cell, int]]:
    """The value of every line, signal part, solid and node in each row: a watched node holds one item or none.

    Values: levels as they are; 1 or 0 for what is lit, on, energised, locked; what a gauge delivers. Rows in which all
    gauges read the same share one settled field.
    """
    fields: dict[tuple[int, ...], dict[Cell, int]] = {}
    shown = []
    for row in rows:
        readings = {cell: reading_of(int(row.holds(end)), reach, stack) for cell, end in ends.items()}
        key = tuple(readings[cell] for cell in wiring.reads if cell is not None)
        if key not in fields:
            fields[key] = _settled(wiring, readings, reach)
        shown.append(fields[key])
    return shown


def _settled(wiring: Wiring, readings: Mapping[Cell, int], reach: int) -> dict[Cell, int]:
    field = Field(wiring, reach)
    assert settle(field, readings.__getitem__, default_rules().settling_rounds), "no feedback, yet it never settles"
    values = dict(zip(wiring.lines, field.level, strict=True))
    values.update(zip(wiring.solids, map(int, field.energised), strict=True))
    values.update(zip(wiring.nodes, map(int, field.locked), strict=True))
    for part, out in zip(wiring.parts, field.out, strict=True):
        values[part.at] = out if isinstance(part, Gauge) else int(out > 0)
    return values
