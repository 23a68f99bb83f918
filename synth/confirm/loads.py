"""The loads that a candidate is tried with: as large as there is room for.

A trial ends with all that it delivered in the outputs (no furnace is sure to fire), and a furnace takes one stack of
what enters it. It would refuse the rest of a larger load, whatever the locks do; so the largest that fits takes its
place.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from sim.errors import InputError
from sim.world.files.places import all_of
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Container, Furnace, Node
from sim.world.rulebook import Rules
from synth.ask.arrivals import DRAWN, GAPS
from synth.ask.spec import Spec
from synth.schemes.registry import kept_of

Load = tuple[int, int]
"""Items a target, times without reset."""
LOADS: Final[tuple[Load, ...]] = ((1, 1), (2, 1), (18, 1), (1, 2), (18, 2))
TRICKLED: Final = 4
"""Items a target of a trial in which they come one by one."""


@dataclass(frozen=True, slots=True)
class Room:
    """Items a target that there is room for: ``at_once`` in the source, ``in_all`` where they end in one trial.
    ``waiting``: what the nodes may keep, where that is two items a target or more."""

    at_once: int
    in_all: int
    waiting: int = 0

    def loads(self, wanted: Sequence[Load] = LOADS) -> tuple[Load, ...]:
        """Those wanted, each as large as fits. Raises InputError where not even one item a target does."""
        fitting = [(min(each, self.at_once, self.in_all // times), times) for each, times in wanted]
        if not any(each for each, _ in fitting):
            fault = "a source has no room for one item for each output" if not self.at_once else "an output has no room"
            raise InputError(fault, field="streams")
        return tuple(dict.fromkeys(load for load in fitting if load[0]))

    @property
    def trickled(self) -> int:
        """Items a target that come one by one: so many that the source takes them even if they come together; as many
        more as may wait in the nodes."""
        return min(TRICKLED + self.waiting, self.at_once, self.in_all)


def room_of(spec: Spec, held: int | None = None) -> Room:
    """In the layouts that a spec asks for: empty bins and furnaces. ``held``: items that the nodes may keep of a stream
    (None: as the scheme has it that the spec is about)."""
    kept, bins = kept_of(spec) if held is None else held, spec.rules.bin_slots
    stacks = (spec.stack_of(stream.item) for stream in spec.streams)
    return _least(_room(bins * stack, stack, kept, spec.outputs) for stack in stacks)


def room_in(layout: Layout, rules: Rules, held: Mapping[str, int]) -> Room:
    """In a layout as it starts. ``held``: items that the nodes may keep of each stream, by its name."""
    return _least(
        _room(
            _free(layout, rules, stream.source, stream.item),
            min(_free(layout, rules, cell, stream.item) for cell in stream.outputs),
            held[stream.name],
            len(stream.outputs),
        )
        for stream in layout.streams
    )


def _room(source: int, output: int, held: int, targets: int) -> Room:
    """What nodes keep of a load of k items a target is a multiple of the targets too, and needs no room in these."""
    kept = held // targets
    return Room(source // targets, output + kept, kept if kept >= 2 else 0)


def _least(rooms: Iterable[Room]) -> Room:
    """What every stream has room for."""
    every = list(rooms)
    return Room(
        at_once=min(room.at_once for room in every),
        in_all=min(room.in_all for room in every),
        waiting=max(room.waiting for room in every),
    )


def _free(layout: Layout, rules: Rules, cell: Cell, kind: str) -> int:
    """Items of a kind that a container takes before anything leaves it; a furnace through one of its faces."""
    part, here = layout.by_cell[cell], layout.rules_in_force(rules)
    assert isinstance(part, Container)
    slots = {Bin: here.bin_slots, Node: here.node_slots, Furnace: 1}[type(part)]
    item = layout.items.get(kind)
    stack = (item.stack if item else None) or here.stack
    held = [slot for slot in part.holds if slot is not None]
    mine = [count for other, count in held if other == kind]
    taken = 0 if isinstance(part, Furnace) else len(held) - len(mine)
    return max(0, (slots - taken) * stack - sum(mine))


def largest(loads: Iterable[Load]) -> int:
    """Items a target of the largest load without another before it."""
    return max(each for each, times in loads if times == 1)


# -- in words ---------------------------------------------------------------------------------------------------------


def size_text(per_target: int) -> str:
    """"N", "18N"."""
    return "N" if per_target == 1 else f"{per_target}N"


def load_text(per_target: int, times: int) -> str:
    """"18N", or "18N twice"."""
    return size_text(per_target) if times == 1 else f"{size_text(per_target)} twice"


def loads_text(loads: Iterable[Load]) -> str:
    """"N, 2N and 18N items at once, N and 18N twice without reset"."""
    once, twice = ([size_text(each) for each, times in loads if times == n] for n in (1, 2))
    return f"{all_of(once)} items at once" + (f", {all_of(twice)} twice without reset" if twice else "")


def gaps_text(per_target: int) -> str:
    """"4N items one by one, 1 to 40 ticks apart and with 12 draws of gaps"."""
    items = size_text(per_target)
    return f"{items} items one by one, {GAPS[0]} to {GAPS[-1]} ticks apart and with {DRAWN} draws of gaps"


def loads_tried(spec: Spec) -> str:
    """With which loads every layout for the spec is tried. Raises InputError where none fits."""
    return f"tried with loads of {loads_text(room_of(spec).loads())}"


def gaps_tried(spec: Spec) -> str:
    """With which items one by one, where the spec is about streams."""
    return f"tried with {gaps_text(room_of(spec).trickled)}"
