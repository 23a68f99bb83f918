"""Filling a finished build by hand: in which order its containers get the contents that they start with.

**Downstream first.** Items move along two kinds of ways (rulebook section 3): a node pushes into what its outlet faces,
and it pulls from the container directly above it. So a container can lose items to the container in front of its outlet
and to a node below it, and to nothing else. Filled after these, it finds them as full as they are to be, and hands on
no more than the room that the layout itself leaves in them; filled before them, it would empty itself into them. A
lock protects nothing here: a locked node still receives and is still pulled from.

The order cannot keep everything where it was put: where the layout leaves room, items move into it at once, as they do
in the layout before its first load; a lock may be open as long as the gauge that closes it reads too little; and in a
ring of containers no one comes last. So the filling is tried out in the simulator: a slot is filled in one go, then
nothing is done until all rests. What the layout itself comes to, with its starting contents and no load, is what the
filling must come to as well.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import networkx as nx

from sim.world.geometry import Cell, step
from sim.world.layout import Layout
from sim.world.parts import Bin, Container, Furnace, Node, Slot
from sim.world.rulebook import Rules
from sim.world.trial import Trial, TrialResult

MOST_WAIT: Final = 6000
"""Ticks (five minutes) after which a build that does not rest by itself is no longer waited for."""

Outcome = Literal["kept", "settles", "astray", "restless"]


@dataclass(frozen=True, slots=True)
class FillStep:
    """One container that gets its starting contents. ``gone``: so many items less lie there when all rests again
    (moved on, or used up by a furnace); 0 too where the trial ended before."""

    container: Container
    gone: int


@dataclass(frozen=True, slots=True)
class Filling:
    """The steps in their order, and what they led to in the simulator.

    ``outcome``: "kept": each slot is as in the layout; "settles": the contents and signals are those that the layout
    itself comes to before its first load; "astray": they are not; "restless": the layout, or it while being filled,
    does not rest within ``MOST_WAIT`` ticks.
    """

    steps: tuple[FillStep, ...]
    outcome: Outcome


def filling(layout: Layout, base: Rules) -> Filling | None:
    """How to fill the containers of ``layout``; None where all start empty. ``base``: rules that the layout may change.

    Time: that of a trial for each slot that is filled.
    """
    order = [part for cell in fill_sequence(layout) if holds_something(part := _container(layout, cell))]
    return _tried(layout, order, base) if order else None


def holds_something(part: Container) -> bool:
    """The container starts with contents."""
    return any(slot is not None for slot in part.holds)


def fill_sequence(layout: Layout) -> list[Cell]:
    """All containers, each after those that items can get to from it; those of a ring one after another.

    Where that leaves a choice, bins last (most of them feed a row), then by cell. networkx's strongly connected
    components (Tarjan 1972, Nuutila and Soisalon-Soininen 1994) and topological sort: O(n log n).
    """
    rings = nx.condensation(_ways(layout))

    def rank(ring: int) -> tuple[bool, Cell]:
        cells: set[Cell] = rings.nodes[ring]["members"]
        return all(isinstance(layout.by_cell[cell], Bin) for cell in cells), min(cells)

    order = nx.lexicographical_topological_sort(rings.reverse(), key=rank)
    return [cell for ring in order for cell in sorted(rings.nodes[ring]["members"])]


def _ways(layout: Layout) -> nx.DiGraph[Cell]:
    """An edge from each container to those that items can get into from it in one move."""
    graph: nx.DiGraph[Cell] = nx.DiGraph()
    graph.add_nodes_from(part.at for part in layout.containers)
    for part in layout.containers:
        if isinstance(layout.by_cell.get(below := step(part.at, "D")), Node):
            graph.add_edge(part.at, below)
        if isinstance(part, Node) and isinstance(layout.by_cell.get(front := step(part.at, part.outlet)), Container):
            graph.add_edge(part.at, front)
    return graph


def _tried(layout: Layout, order: Sequence[Container], base: Rules) -> Filling:
    wanted = Trial(layout, base).run(limit=MOST_WAIT)
    hand = _Hand(layout, base)
    gone = [hand.fill(part) if wanted.at_rest else 0 for part in order]
    steps = tuple(FillStep(part, count) for part, count in zip(order, gone, strict=True))
    return Filling(steps, _outcome(layout, wanted, hand.result))


def _outcome(layout: Layout, wanted: TrialResult, found: TrialResult) -> Outcome:
    if not (wanted.at_rest and found.at_rest):
        return "restless"
    if wanted.signals != found.signals:
        return "astray"
    if all(_slots_of(part) == _without_end(found.contents[part.at]) for part in layout.containers):
        return "kept"
    return "settles" if _counts(wanted.contents) == _counts(found.contents) else "astray"


class _Hand:
    """Fills the empty build in a simulator, slot by slot."""

    def __init__(self, layout: Layout, base: Rules) -> None:
        self.trial = Trial(_emptied(layout), base)
        self.result = self.trial.run(limit=MOST_WAIT)

    def fill(self, part: Container) -> int:
        """Put in what the container starts with; how many items less it holds when all rests again."""
        before = self._held(part)
        for number, slot in enumerate(part.holds):
            if slot is not None and self.result.at_rest:
                self._put(part, number, slot)
        put = sum(slot[1] for slot in part.holds if slot is not None)
        return max(0, before + put - self._held(part)) if self.result.at_rest else 0

    def _put(self, part: Container, number: int, slot: Slot) -> None:
        """As much as there is room for in the slot, which takes one kind."""
        kind, count = slot
        world = self.trial.world
        for _ in range(count):
            world.stores[part.at].put(kind, number)
        world.put([(part.at, kind, 0)])  # nothing more: the slot is filled, and this lets it be noticed
        self.result = self.trial.run(limit=MOST_WAIT)

    def _held(self, part: Container) -> int:
        return self.trial.world.stores[part.at].items


def _emptied(layout: Layout) -> Layout:
    parts = (replace(part, holds=()) if isinstance(part, (Bin, Node, Furnace)) else part for part in layout.parts)
    return replace(layout, parts=tuple(parts))


def _container(layout: Layout, cell: Cell) -> Container:
    part = layout.by_cell[cell]
    assert isinstance(part, Container)
    return part


def _slots_of(part: Container) -> tuple[Slot | None, ...]:
    return _without_end(part.holds)


def _without_end(slots: Sequence[Slot | None]) -> tuple[Slot | None, ...]:
    """The slots up to the last one that holds something."""
    last = max((number for number, slot in enumerate(slots) if slot is not None), default=-1)
    return tuple(slots[: last + 1])


def _counts(contents: Mapping[Cell, Sequence[Slot | None]]) -> dict[Cell, Counter[str]]:
    """How many items of each kind lie in each container, whatever slots they lie in."""
    return {cell: Counter(dict(_totals(slots))) for cell, slots in contents.items()}


def _totals(slots: Sequence[Slot | None]) -> Iterator[tuple[str, int]]:
    kinds = {slot[0] for slot in slots if slot is not None}
    return ((kind, sum(slot[1] for slot in slots if slot is not None and slot[0] == kind)) for kind in sorted(kinds))
