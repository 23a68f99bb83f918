"""What any build is measured by, whatever it is for: its box, its parts, its price."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypedDict

from sim.world.layout import Layout


@dataclass(frozen=True, slots=True)
class Built:
    """``box``: width, depth, height of what is built; ``volume`` in cells; ``footprint`` x times y; ``parts`` in all
    and ``by_kind``; ``price`` of them all."""

    box: tuple[int, int, int]
    volume: int
    footprint: int
    height: int
    parts: int
    by_kind: Mapping[str, int]
    price: int

    def built_json(self) -> dict[str, Any]:
        """These figures as they stand in ``--json`` documents."""
        return {
            "box": list(self.box),
            "volume": self.volume,
            "footprint": self.footprint,
            "height": self.height,
            "parts": self.parts,
            "by_kind": dict(self.by_kind),
            "price": self.price,
        }


class BuiltFigures(TypedDict):
    """The fields of ``Built``."""

    box: tuple[int, int, int]
    volume: int
    footprint: int
    height: int
    parts: int
    by_kind: Mapping[str, int]
    price: int


def box_of(layout: Layout) -> tuple[int, int, int]:
    """Width, depth and height of the smallest box around the parts that stands on the ground."""
    cells = [part.at for part in layout.parts]
    w, d = (max(c[axis] for c in cells) - min(c[axis] for c in cells) + 1 for axis in range(2))
    return w, d, max(c[2] for c in cells) + 1


def built_figures(layout: Layout, price_of: Callable[[str], int]) -> BuiltFigures:
    """The figures of a layout; ``price_of``: the price of one part of a kind."""
    w, d, h = box_of(layout)
    by_kind = Counter(part.kind for part in layout.parts)
    return {
        "box": (w, d, h),
        "volume": w * d * h,
        "footprint": w * d,
        "height": h,
        "parts": len(layout.parts),
        "by_kind": dict(sorted(by_kind.items())),
        "price": sum(price_of(kind) * n for kind, n in by_kind.items()),
    }
