"""What a person asks for: the split, the site, the streams, the preferences (formats, "Spec")."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from sim.world.geometry import Cell, Direction
from sim.world.layout import ItemKind
from sim.world.rulebook import Rulebook, Rules

EvenFor = Literal["burst", "stream"]
Leftovers = Literal["deliver", "hold"]
Face = Literal["top", "side"]
RowShape = Literal["any", "straight"]
Orders = Literal["file", "all"]
Handovers = Literal["in force", "both"]
Arrivals = Literal["tried", "all"]
AXES: Final = ("width", "depth", "height")
"""The words for the sizes of a site along x, y and z."""
MEASURES: Final = ("volume", "footprint", "height", "parts", "price", "latency", "throughput")
"""What layouts can be ranked by; smaller is better for all but throughput."""
DEFAULT_ORDER: Final = ("volume", "parts", "latency")


@dataclass(frozen=True, slots=True)
class StreamSpec:
    """One split: ``item`` from one source bin into every furnace through its ``enters`` face.

    ``source``: None (anywhere), a cell, or a side of the site (the bin stands in the outermost cells on that side).
    ``outputs_at``: cells of the furnaces, in order, where the spec pins them.
    """

    name: str
    item: str
    enters: Face = "top"
    source: Cell | Direction | None = None
    outputs_at: tuple[Cell, ...] = ()


@dataclass(frozen=True, slots=True)
class PartLimit:
    """``most``: how many parts of the kind a layout may use (None: any number); ``price`` of one."""

    most: int | None = None
    price: int = 1


@dataclass(frozen=True, slots=True)
class Demands:
    """What a layout must be shown to do beyond the trials of every candidate.

    ``orders``: even in the file's update order, or in all. ``handover``: under the one in force, where no layout works
    under both, or under both in any case. ``arrivals``: even for those that are tried, or for every arrival pattern.
    ``throughput``: items an hour in steady flow at least (None: any).
    """

    orders: Orders = "file"
    handover: Handovers = "in force"
    arrivals: Arrivals = "tried"
    throughput: int | None = None

    @property
    def beyond_trials(self) -> bool:
        """Something is demanded that no trial shows."""
        return self.orders == "all" or self.arrivals == "all"


@dataclass(frozen=True)
class Spec:
    """A spec as read, checked and completed. ``size`` is the site's width, depth, height; nothing stands outside.

    ``holds_most``: items that may wait in nodes at rest, those filled in first among them (None: any number).
    ``row``: whether the rows of nodes may bend. ``scheme``: the name of the one scheme to be used (None: any that
    serves). ``demands``: what is to be shown of a layout.
    """

    title: str
    outputs: int
    size: tuple[int, int, int]
    streams: tuple[StreamSpec, ...]
    rulebook: Rulebook
    even_for: EvenFor = "burst"
    leftovers: Leftovers = "deliver"
    holds_most: int | None = None
    row: RowShape = "any"
    blocked: frozenset[Cell] = frozenset()
    order: tuple[str, ...] = DEFAULT_ORDER
    limits: Mapping[str, PartLimit] = field(default_factory=dict)
    items: Mapping[str, ItemKind] = field(default_factory=dict)
    overrides: Mapping[str, int] = field(default_factory=dict)
    scheme: str | None = None
    demands: Demands = Demands()

    @property
    def rules(self) -> Rules:
        """The numbers in force: the rulebook's with the spec's overrides."""
        return self.rulebook.rules.with_overrides(self.overrides)

    def stack_of(self, item: str) -> int:
        """How many items of a kind one slot takes."""
        listed = self.items.get(item)
        return (listed.stack if listed else None) or self.rules.stack

    def limit(self, kind: str) -> PartLimit:
        """The limit and price of one kind of part."""
        return self.limits.get(kind, PartLimit())
