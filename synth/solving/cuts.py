"""No-goods that follow from a judged candidate: one that is sound for a refused one, one that asks for another layout.

Why the first is sound. What a trial of the item network comes to depends on what the item network is and on when its
nodes are locked. Rulebook section 4 words every law of a cell in terms of its neighbours, of what a line beside it
points into, and of links one step up or down: nothing that stands more than two cells away, along any axis, acts on a
cell. So a layout with the same contents in every cell within two of the *cone* (the item network and every place that
acts on a node, directly or through others) has the same cone, and its nodes are locked at the same ticks: it is refused
for the same reason. (Ties are decided by the file order, which is the reading order of the cells: the same too.)
Where a finding on some part refused the candidate, the part need not lie in the cone: only that very filling is cut.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from itertools import product
from typing import Final

from sim.world.geometry import Cell
from synth.model.clauses import Lit
from synth.model.edges import Edge, Place
from synth.model.vocabulary import Vocabulary

SIGHT: Final = 2
"""Cells along each axis beyond which nothing acts on a cell directly."""
ITEM_NETWORK: Final = ("row", "drop", "bin", "furnace")

Holds = Callable[[Lit], bool]


def same_lock(v: Vocabulary, holds: Holds) -> list[Lit]:
    """A clause against every filling that is the same within sight of the cone."""
    within = product(range(-SIGHT, SIGHT + 1), repeat=3)
    offsets = list(within)
    near = {(x + i, y + j, z + k) for x, y, z in _cone(v, holds) for i, j, k in offsets}
    return _not_again(v, holds, near)


def same_filling(v: Vocabulary, holds: Holds) -> list[Lit]:
    """A clause against the very same filling of all cells."""
    return _not_again(v, holds, v.cells)


def same_parts(v: Vocabulary, holds: Holds, cells: Collection[Cell]) -> list[Lit]:
    """A clause against the same contents of some cells, whatever stands in the others."""
    return _not_again(v, holds, cells)


def _not_again(v: Vocabulary, holds: Holds, cells: Collection[Cell]) -> list[Lit]:
    clause = []
    for cell in cells:
        if cell not in v.kind:
            continue
        kind, lit = next((kind, lit) for kind, lit in v.kind[cell].items() if holds(lit))
        clause.append(-lit)
        if kind.name == "relay":
            clause += [-delay for delay in v.delay[cell].values() if holds(delay)]
    return clause


def _cone(v: Vocabulary, holds: Holds) -> set[Cell]:
    """The item network's cells, and those of every place that can act on a node of it."""
    acting = _acting(v.influences, holds)  # made with the model: later ones would have variables that no clause ties
    chosen = ((cell, kind) for cell, kinds in v.kind.items() for kind, lit in kinds.items() if holds(lit))
    network = {cell for cell, kind in chosen if kind.name in ITEM_NETWORK}
    todo: list[Place] = [("node", cell) for cell in network]
    seen: set[Place] = set(todo)
    while todo:
        for source in acting.get(todo.pop(), ()):
            if source not in seen:
                seen.add(source)
                todo.append(source)
    return {cell for _, cell in seen}


def _acting(every: Iterable[Edge], holds: Holds) -> Mapping[Place, list[Place]]:
    """For each place, those that act on it in the solution."""
    acting: dict[Place, list[Place]] = {}
    for edge in every:
        if all(map(holds, edge.given)):
            acting.setdefault(edge.target, []).append(edge.source)
    return acting
