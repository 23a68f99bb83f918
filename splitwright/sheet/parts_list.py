"""What to fetch: how many of each part, in stacks and singles, with its price."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from sim.geometry import Cell
from sim.layout import Layout
from sim.parts import PART_KINDS, Bin, Holds, Part, Support

MARKED: Final = "marked"


@dataclass(frozen=True, slots=True)
class PartsLine:
    """One line: ``count`` parts of a kind, of which ``stacks`` are full; ``price`` of one (None: the spec names none).

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


def starting_contents(layout: Layout) -> Iterator[tuple[Cell, str, Holds]]:
    """Cell, kind and slots of every container that starts with something in it."""
    for part in layout.containers:
        if any(slot is not None for slot in part.holds):
            yield part.at, part.kind, part.holds


def most_at_once(steps: Iterable[bool | None]) -> int:
    """The most temporary supports that stand at a time. ``steps``: True one up, False one down, None neither."""
    up = most = 0
    for step in steps:
        up += 0 if step is None else 1 if step else -1
        most = max(most, up)
    return most


def _finish(part: Part) -> str:
    return MARKED if isinstance(part, Bin) and part.finish == MARKED else ""


