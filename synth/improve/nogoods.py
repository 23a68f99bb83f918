"""Cuts after a refused candidate: sound ones, as wide as its reason allows.

``synth.solving.cuts`` says why what stands out of sight of a cone does not matter. A dead line is found from the links
of its run and from what feeds the run, so that cone, that of the run, is enough for it; likewise that of an inverter
that overheats, with the item network, whose contents drive it. Of every other finding the very filling is cut, no more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import product

from sim.world.geometry import Cell
from sim.world.world import Finding
from synth.model.clauses import Lit
from synth.model.edges import Place
from synth.model.vocabulary import Vocabulary
from synth.solving.cuts import ITEM_NETWORK, SIGHT, same_filling, same_lock, same_parts

Holds = Callable[[Lit], bool]


def nogood(v: Vocabulary, holds: Holds, findings: Sequence[Finding], by_finding: bool) -> list[Lit]:
    """A clause against every filling that is refused for the same reason. ``findings``: the design checks' (in the
    box's coordinates); ``by_finding``: a trial failed, or passed, for some part's sake."""
    dead = [finding.at for finding in findings if finding.check == "dead line" and finding.at is not None]
    hot = [finding.at for finding in findings if finding.check == "overheats" and finding.at is not None]
    if dead:
        return same_parts(v, holds, _in_sight(_cone(v, holds, _run(v, holds, dead[0]))))
    if not by_finding:
        return same_lock(v, holds)
    if hot:
        return same_parts(v, holds, _in_sight(_cone(v, holds, [("part", hot[0]), *_network(v, holds)])))
    return same_filling(v, holds)


def _in_sight(cells: Iterable[Cell]) -> set[Cell]:
    offsets = list(product(range(-SIGHT, SIGHT + 1), repeat=3))
    return {(x + i, y + j, z + k) for x, y, z in cells for i, j, k in offsets}


def _network(v: Vocabulary, holds: Holds) -> list[Place]:
    cells = (cell for cell in v.cells if any(holds(lit) for name in ITEM_NETWORK for lit in v.of_name(cell, name)))
    return [("node", cell) for cell in cells]


def _run(v: Vocabulary, holds: Holds, line: Cell) -> list[Place]:
    """The lines of the run, whichever way they are linked."""
    linked: dict[Place, list[Place]] = {}
    for edge in v.influences:
        if edge.source[0] == edge.target[0] == "line" and all(map(holds, edge.given)):
            linked.setdefault(edge.source, []).append(edge.target)
            linked.setdefault(edge.target, []).append(edge.source)
    return _reached(linked, [("line", line)])


def _cone(v: Vocabulary, holds: Holds, places: Iterable[Place]) -> set[Cell]:
    """The cells of every place that acts on one of ``places``, and theirs."""
    acting: dict[Place, list[Place]] = {}
    for edge in v.influences:
        if all(map(holds, edge.given)):
            acting.setdefault(edge.target, []).append(edge.source)
    return {cell for _, cell in _reached(acting, places)}


def _reached(ways: Mapping[Place, Sequence[Place]], places: Iterable[Place]) -> list[Place]:
    found = dict.fromkeys(places)
    todo = list(found)
    while todo:
        for other in ways.get(todo.pop(), ()):
            if other not in found:
                found[other] = None
                todo.append(other)
    return list(found)
