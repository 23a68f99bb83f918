"""A transfer node's turn (rulebook section 3, "A node's turn")."""

from __future__ import annotations

from dataclasses import dataclass

from sim.world.geometry import Cell, Direction
from sim.world.items.store import Store


@dataclass(slots=True)
class NodeState:
    """A node: what it holds, and the first tick in which its cooldown is down to 0.

    The cooldown drops by one a tick whatever happens, so its end is a fixed tick: ``ready_at``.
    ``number`` counts nodes in file order; ``above`` and ``target`` are cells. ``idle``: its last turn found nothing to
    move, and since then neither its own contents nor those above and in the target have changed.
    """

    number: int
    at: Cell
    outlet: Direction
    above: Cell
    target: Cell
    store: Store
    ready_at: int = 0
    idle: bool = False
