"""When nodes are locked, in conditions on what containers hold; nodes with the same condition are told together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from sim.analysis.couplings.rows import rows_of
from sim.analysis.workings.circuit import Circuit, Cone, cone_of
from sim.analysis.workings.cover import fewest_products
from sim.analysis.workings.truth import Bits, Range, TooMuch, Truth, truths_of
from sim.world.geometry import Cell, step
from sim.world.layout import Layout
from sim.world.parts import Furnace, Node
from sim.world.statement import ItemWord, Statement, Value, mention, mentions

Untold = Literal["loop", "many"]
"""Why a condition is left untold: a loop or a latch on the way, or too long."""
Condition = tuple[tuple[Cell, Range], ...]
"""Containers, each with the readings that it must have."""

LEVELS: Final = {"from": ("least",), "to": ("most",), "between": ("least", "most")}
"""The ends of a range that are told, by what it says of a container."""


@dataclass(frozen=True, slots=True)
class LockGroup:
    """Nodes (by number) that are locked under the same condition. ``truth``: None where it is left untold.

    ``locked``, ``free``: either of these conditions is enough (None: too many to be told). ``containers``: what the
    lock hangs on.
    """

    nodes: tuple[int, ...]
    containers: tuple[Cell, ...]
    truth: Truth | None
    untold: Untold | None
    locked: tuple[Condition, ...] | None = None
    free: tuple[Condition, ...] | None = None


def lock_groups(circuit: Circuit) -> list[LockGroup]:
    """The nodes that signals may lock or not, grouped, in the order of their first nodes in the file.

    Time: bounded by the limits of ``truth`` and ``cover`` for each set of parts that locks nodes.
    """
    by_cone: dict[tuple[tuple[int, ...], bool], tuple[Cone, list[int]]] = {}
    for node in range(len(circuit.wiring.nodes)):
        if circuit.varies(node):
            cone = cone_of(circuit, node)
            by_cone.setdefault((cone.parts, cone.is_knotted), (cone, []))[1].append(node)
    groups: list[LockGroup] = []
    alike: dict[object, tuple[Truth, list[int]]] = {}
    for cone, nodes in by_cone.values():
        if cone.is_knotted:
            groups.append(LockGroup(tuple(nodes), (), None, "loop"))
            continue
        try:
            for node, truth in zip(nodes, truths_of(circuit, cone, nodes), strict=True):
                alike.setdefault(truth.key, (truth, []))[1].append(node)
        except TooMuch:
            read = {cell for part in cone.parts if (cell := circuit.wiring.reads[part]) is not None}
            groups.append(LockGroup(tuple(nodes), tuple(sorted(read)), None, "many"))
    groups += [_group_of(truth, tuple(sorted(nodes))) for truth, nodes in alike.values()]
    return sorted(groups, key=lambda group: group.nodes)


def _group_of(truth: Truth, nodes: tuple[int, ...]) -> LockGroup:
    locked, free = _conditions(truth, truth.locked), _conditions(truth, ~truth.locked)
    untold: Untold | None = "many" if locked is None and free is None else None
    return LockGroup(nodes, truth.containers, truth, untold, locked, free)


def _conditions(truth: Truth, table: Bits) -> tuple[Condition, ...] | None:
    products = fewest_products(table)
    if products is None:
        return None
    return tuple(
        tuple(
            (cell, (classes[a][0], classes[b][1]))
            for cell, classes, (a, b) in zip(truth.containers, truth.classes, product, strict=True)
            if (a, b) != (0, len(classes) - 1)
        )
        for product in products
    )


def logic_statements(circuit: Circuit, groups: Sequence[LockGroup]) -> Iterator[Statement]:
    """Each group's conditions: when signals lock it, when they unlock it, and which of these is the drain."""
    if not groups:
        yield Statement("workings.logic_none")
        return
    yield Statement("workings.logic_settled")
    for group in groups:
        yield from _of_group(circuit, group)
    yield from _meanings(circuit, groups)


def _of_group(circuit: Circuit, group: LockGroup) -> Iterator[Statement]:
    layout = circuit.layout
    nodes = mentions(layout, (circuit.wiring.nodes[node] for node in group.nodes))
    if group.untold == "loop":
        yield Statement("workings.logic_loop", {"nodes": nodes})
        return
    if group.untold is not None:
        containers = mentions(layout, group.containers)
        yield Statement("workings.logic_many", {"nodes": nodes, "containers": containers})
        return
    if not group.containers:
        is_locked = group.truth is not None and bool(group.truth.locked)
        yield Statement("workings.logic_locked" if is_locked else "workings.logic_free", {"nodes": nodes})
        return
    for condition in group.locked or ():
        yield from _told(circuit, "lock", nodes, condition)
    heads = _heads(layout, [circuit.wiring.nodes[node] for node in group.nodes])
    for condition in group.free or ():
        match condition:
            case ((cell, (0, 0)),) if cell in heads:
                yield Statement("workings.drain", {"nodes": nodes, "head": mention(layout, cell)})
            case _:
                yield from _told(circuit, "unlock", nodes, condition)


def _heads(layout: Layout, nodes: Sequence[Cell]) -> set[Cell]:
    """The nodes below the sources of streams whose rows have all of these nodes further on."""
    rows = rows_of(layout).of
    heads = {stream.name: step(stream.source, "D") for stream in layout.streams}
    return {
        head
        for name, head in heads.items()
        if isinstance(layout.by_cell.get(head), Node)
        and all(name in rows.get(node, ()) and node != head for node in nodes)
    }


def _told(circuit: Circuit, verb: str, nodes: Value, condition: Condition) -> Iterator[Statement]:
    """One condition in one sentence where there are words for that, else a sentence for each container."""
    layout, full = circuit.layout, circuit.rules.reach
    kinds: dict[str, list[Cell]] = {}
    for cell, readings in condition:
        kinds.setdefault(_kind(readings, full), []).append(cell)
    several = sum(len(cells) for kind, cells in kinds.items() if kind != "empty") > 1
    match sorted(kinds):
        case ["empty"] | ["full"] | ["holding"] | ["empty", "holding"]:
            each = "_each" if several and "holding" in kinds else ""
            values: dict[str, Value] = {kind: mentions(layout, cells) for kind, cells in sorted(kinds.items())}
            yield Statement(f"workings.{verb}_{'_'.join(sorted(kinds))}{each}", {"nodes": nodes, **values})
        case ["room"] if not several:
            yield Statement(f"workings.{verb}_room", {"nodes": nodes, "room": mentions(layout, kinds["room"])})
        case [("from" | "to" | "between") as kind] if len(condition) == 1:
            yield Statement(f"workings.{verb}_{kind}", {"nodes": nodes, **_reading(layout, kind, *condition[0])})
        case _:
            yield Statement(f"workings.{verb}_case", {"nodes": nodes, "count": len(condition)})
            for cell, readings in condition:
                says = _kind(readings, full)
                yield Statement(f"workings.case_{says}", _reading(layout, says, cell, readings))


def _reading(layout: Layout, kind: str, cell: Cell, readings: Range) -> dict[str, Value]:
    levels = dict(zip(("least", "most"), readings, strict=True))
    return {"container": mention(layout, cell), **{name: levels[name] for name in LEVELS.get(kind, ())}}


def _meanings(circuit: Circuit, groups: Sequence[LockGroup]) -> Iterator[Statement]:
    """How many items of its stream it takes for a reading that a condition names."""
    layout, rules = circuit.layout, circuit.rules
    rows, named = rows_of(layout).of, _levels_named(groups, rules.reach)
    for cell, level in sorted(named):
        part = layout.by_cell[cell]
        kinds = {stream.item for stream in layout.streams if stream.name in rows.get(cell, ())}
        if isinstance(part, Furnace) or len(kinds) != 1:
            continue
        (kind,) = kinds
        room = layout.stack_limit(rules)(kind) * (rules.node_slots if isinstance(part, Node) else rules.bin_slots)
        count = -(-(level - 1) * room // (rules.reach - 1))  # fill level = floor(1 + (full - 1) * mean): section 4
        values: dict[str, Value] = {"container": mention(layout, cell), "item": ItemWord(kind)}
        yield Statement("workings.reading_means", {**values, "count": count, "level": level})


def _levels_named(groups: Sequence[LockGroup], full: int) -> set[tuple[Cell, int]]:
    """Containers with readings, neither empty nor full ones, from which on something is different."""
    named = set()
    for group in groups:
        for condition in (*(group.locked or ()), *(group.free or ())):
            for cell, (least, most) in condition:
                named |= {(cell, level) for level in (least, most + 1) if 1 < level < full}
    return named


def _kind(readings: Range, full: int) -> str:
    """What a range of readings says of a container: a reading is 0 only when it is empty, the full level only when
    every slot is (rulebook section 4, "Fill level"); with a full level of 1 anything at all reads that."""
    least, most = readings
    if most == 0:
        return "empty"
    if most == full:
        return "holding" if least == 1 else "full" if least == full else "from"
    if least == 0:
        return "room" if most == full - 1 else "to"
    return "between"
