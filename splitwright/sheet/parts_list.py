"""What to fetch: how many of each part, in stacks and singles, with its price."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from sim.world.layout import Layout
from sim.world.parts import PART_KINDS, Bin, Part, Support

MARKED: Final = "marked"


@dataclass(frozen=True, slots=True)
class PartsLine:
    """One line: ``count`` parts or items of a kind, in stacks of ``stack``; ``price`` of one (None: none is named).

    ``finish``: of a bin that is not plain. ``is_temporary``: supports that come down again.
    """

    kind: str
    count: int
    stack: int
    price: int | None
    finish: str = ""
    is_temporary: bool = False

    @property
    def stacks(self) -> int:
        """Full stacks."""
        return self.count // self.stack

    @property
    def singles(self) -> int:
        """What the full stacks leave."""
        return self.count % self.stack


def parts_list(layout: Layout, stack: int, prices: Mapping[str, int], temporary: int) -> list[PartsLine]:
    """A line a kind, in the rulebook's order, bins by finish; ``temporary``: supports that stand for a while only.

    ``prices``: of one part, by kind; empty where no spec sets any.
    """
    counts = Counter((part.kind, _finish(part)) for part in layout.parts)
    order = list(PART_KINDS)

    def price(kind: str) -> int | None:
        return prices[kind] if prices else None

    lines = [
        PartsLine(kind, counts[kind, finish], stack, price(kind), finish)
        for kind, finish in sorted(counts, key=lambda pair: (order.index(pair[0]), pair[1]))
    ]
    if temporary:
        lines.append(PartsLine(Support.kind, temporary, stack, None, is_temporary=True))
    return lines


def items_list(layout: Layout, stack: int) -> list[PartsLine]:
    """A line for each kind of item that containers start with, in the order of ``layout.items``, then by name.

    ``stack``: limit of a slot for kinds that do not state their own.
    """
    counts: Counter[str] = Counter()
    for kind, count in (slot for part in layout.containers for slot in part.holds if slot is not None):
        counts[kind] += count
    known = list(layout.items)
    order = sorted(counts, key=lambda kind: (known.index(kind) if kind in known else len(known), kind))
    return [PartsLine(kind, counts[kind], _stack_of(layout, kind, stack), None) for kind in order]


def _stack_of(layout: Layout, kind: str, stack: int) -> int:
    return (layout.items[kind].stack if kind in layout.items else None) or stack


def most_at_once(steps: Iterable[bool | None]) -> int:
    """The most temporary supports that stand at a time. ``steps``: True one up, False one down, None neither."""
    up = most = 0
    for step in steps:
        up += 0 if step is None else 1 if step else -1
        most = max(most, up)
    return most


def _finish(part: Part) -> str:
    return MARKED if isinstance(part, Bin) and part.finish == MARKED else ""
