"""What a build shows of the world it stands in: where one item ends, under each handover, in every update order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from math import factorial
from typing import Final

from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.rulebook import Rules
from sim.world.signals.wiring import wiring_of
from sim.world.trial import Arrival, Trial

ITEMS: Final = 3
"""Items put in one after the other, each at rest: the build shows the same again."""
TICKS_MOST: Final = 10_000


@dataclass(frozen=True, slots=True)
class Probed:
    """Where items end. ``ends``: for each handover the outputs that any item of any run came to, sorted; None among
    them: one came to none, or the build did not come to rest. ``orders``: update orders that were run, all of them."""

    ends: Mapping[int, tuple[Cell | None, ...]]
    orders: int

    @property
    def tells(self) -> bool:
        """Each handover has an output of its own, in every order."""
        single = [cells[0] for cells in self.ends.values() if len(cells) == 1 and cells[0] is not None]
        return len(single) == len(self.ends) == len(set(single))


def probed(layout: Layout, rules: Rules, handovers: Sequence[int]) -> Probed:
    """Put ``ITEMS`` items into the first stream's source, one after the other, under each handover.

    ``rules``: the numbers in force without the layout's own. Time: the factorial of the number of nodes and furnaces.
    """
    wiring, machines = wiring_of(layout), [part.at for part in layout.machines]
    ends = {}
    for handover in handovers:
        under = replace(layout, rules={**layout.rules, "handover": handover})
        found: set[Cell | None] = set()
        for order in permutations(machines):
            found |= _ends(Trial(under, rules, order=list(order), wiring=wiring))
        ends[handover] = tuple(sorted(found, key=lambda cell: (cell is None, cell or ())))
    return Probed(ends, factorial(len(machines)))


def _ends(trial: Trial) -> set[Cell | None]:
    stream = trial.layout.streams[0]
    found: set[Cell | None] = set()
    before = (0,) * len(stream.outputs)
    for _ in range(ITEMS):
        result = trial.run([Arrival(0, stream.name, 1)], limit=TICKS_MOST)
        now = result.streams[0].delivered
        came = [cell for cell, old, new in zip(stream.outputs, before, now, strict=True) if new > old]
        found.add(came[0] if len(came) == 1 and result.at_rest else None)
        before = now
    return found
