"""A running world carried over into another layout: contents, cooldowns, fires, progress, signals, pending changes.

What the kernel cannot do in mid-run, as taking a part away, is done by building its tables anew and letting the world
go on from where it stood. Signal parts, nodes and what they are numbered by must be the same in both layouts.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from sim.world.geometry import Cell
from sim.world.kernel import places as p
from sim.world.kernel.memory import restore
from sim.world.kernel.run import Run
from sim.world.kernel.tables import Tables
from sim.world.layout import Layout
from sim.world.parts import Furnace
from sim.world.world import World


def without(layout: Layout, cell: Cell) -> Layout:
    """The layout with an empty cell there; streams no longer name it, and one with no output left is gone."""
    streams = (replace(s, outputs=tuple(out for out in s.outputs if out != cell)) for s in layout.streams)
    parts = tuple(part for part in layout.parts if part.at != cell)
    return replace(layout, parts=parts, streams=tuple(s for s in streams if s.outputs))


def carried_over(old: Run, layout: Layout) -> Run:
    """The world of ``old`` at its present tick, in ``layout``, which has no part that the other one has not.

    Signals see the new build at once: levels are worked out afresh, and every part notices, in file order.
    """
    t = Tables(layout, old.tables.base, sinks=old.tables.sinks & layout.by_cell.keys(), kinds=old.tables.kinds)
    order = [cell for cell in (old.tables.machines[i] for i in old.order) if cell in t.machine_no]
    new = Run(t, order)
    then = old.s.copy()
    restore(old.tables.w, then, old.m, old.tick)
    new.s = _state(old.tables, then, t)
    new.start()
    return new


def _state(before: Tables, then: p.Numbers, t: Tables) -> p.Numbers:
    """The state array of the tables ``t`` that says what ``then`` says in those of ``before``."""
    world = World(t.layout, t.base, wiring=t.wiring)
    for number in range(len(t.wiring.parts)):
        world.field.set_out(number, int(then[before.w[p.OUT] + number]))
    s = t.state_of(world)
    for place in (p.TICK, p.LAST_CHANGE, p.PENDING, p.NEXT_DUE):
        s[place] = then[place]
    rings = len(t.wiring.parts) * int(t.w[p.OVERHEAT_COUNT])
    for place, size in (
        (p.DUE, t.w[p.PARTS]), (p.QUEUE, 2 * t.w[p.PARTS]), (p.SWITCH_OFF_COUNT, t.w[p.PARTS]),
        (p.OVERHEATED, t.w[p.PARTS]), (p.SWITCH_OFFS, rings), (p.READY, t.w[p.NODES]),
    ):
        s[t.w[place] : t.w[place] + size] = then[before.w[place] : before.w[place] + size]
    for store, part in enumerate(t.containers):
        _copy_contents(before, then, before.store_no[part.at], t, s, store)
    for new, cell in enumerate(_furnaces(t)):
        old = before.machine_no[cell] - len(before.wiring.nodes)
        for place in (p.FIRE, p.PROGRESS):
            s[t.w[place] + new] = then[before.w[place] + old]
    _copy_counts(before, then, t, s)
    return s


def _copy_contents(before: Tables, then: p.Numbers, old: int, t: Tables, s: p.Numbers, new: int) -> None:
    first, start = int(before.w[before.w[p.FIRST_SLOT] + old]), int(t.w[t.w[p.FIRST_SLOT] + new])
    for i in range(int(t.w[t.w[p.FIRST_SLOT] + new + 1]) - start):
        kind = int(then[before.w[p.KIND] + first + i])
        s[t.w[p.KIND] + start + i] = p.NOTHING if kind == p.NOTHING else t.kind_no[before.kinds[kind]]
        s[t.w[p.COUNT] + start + i] = then[before.w[p.COUNT] + first + i]
    s[t.w[p.ITEMS] + new] = then[before.w[p.ITEMS] + old]


def _copy_counts(before: Tables, then: p.Numbers, t: Tables, s: p.Numbers) -> None:
    """What was delivered, and when first and last."""
    delivered = {
        (before.layout.streams[out.stream].name, out.store): int(then[before.w[p.DELIVERED] + i])
        for i, out in enumerate(before.outputs)
    }
    for i, out in enumerate(t.outputs):
        key = t.layout.streams[out.stream].name, before.store_no[t.containers[out.store].at]
        s[t.w[p.DELIVERED] + i] = delivered[key]
    names = [stream.name for stream in before.layout.streams]
    for new, stream in enumerate(t.layout.streams):
        for place in (p.FIRST_ARRIVAL, p.LAST_ARRIVAL):
            s[t.w[place] + new] = then[before.w[place] + names.index(stream.name)]


def _furnaces(t: Tables) -> Iterable[Cell]:
    return (part.at for part in t.layout.parts if isinstance(part, Furnace))
