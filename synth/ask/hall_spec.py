"""What a person asks of a whole hall: furnaces, sides, output, feed and fuel, what must stay in reach by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from sim.world.geometry import Cell
from sim.world.layout import ItemKind
from sim.world.parts import Finish
from sim.world.rulebook import Rulebook, Rules
from synth.ask.spec import DEFAULT_ORDER, Demands, EvenFor, Face, Leftovers, PartLimit

PRODUCT: Final = "product"
"""What the bins of the product are called where bins are named: labels, reach."""


@dataclass(frozen=True, slots=True)
class HallStream:
    """One of the two streams of each side: ``item`` into all furnaces of it through their face ``enters``.

    ``scheme``: the name of the one scheme for its rows (None: any that serves). ``finish``: label of its source bins.
    """

    name: str
    item: str
    enters: Face
    even_for: EvenFor = "burst"
    leftovers: Leftovers = "deliver"
    scheme: str | None = None
    finish: Finish = "plain"


@dataclass(frozen=True, slots=True)
class HallSpec:
    """A hall as read, checked and completed.

    ``furnaces``: how many (None: as many as the output takes). ``output``: products an hour (None: as fast as the
    furnaces go). ``streams``: one from the top, which is fired, and one from the side, which burns. ``reachable``:
    which bins need a free cell in front, by stream name or "product". ``rows`` of
    furnaces on each side (None: as few as will do). ``inputs``: source bins of each stream for the whole hall (None:
    one for each row). ``product_bins`` (None: one for each row of the longer side). ``size``: the site's limit (None:
    there is none).
    """

    title: str
    furnaces: int | None
    sides: int
    output: Fraction | None
    fires: str
    fuel: str
    streams: tuple[HallStream, ...]
    rulebook: Rulebook
    rows: int | None = None
    product_bins: int | None = None
    inputs: int | None = None
    product_finish: Finish = "plain"
    reachable: frozenset[str] = frozenset()
    size: tuple[int, int, int] | None = None
    order: tuple[str, ...] = DEFAULT_ORDER
    limits: Mapping[str, PartLimit] = field(default_factory=dict)
    items: Mapping[str, ItemKind] = field(default_factory=dict)
    overrides: Mapping[str, int] = field(default_factory=dict)
    demands: Demands = field(default_factory=Demands)
    blocked: frozenset[Cell] = frozenset()

    @property
    def rules(self) -> Rules:
        """The numbers in force: the rulebook's with the spec's overrides."""
        return self.rulebook.rules.with_overrides(self.overrides)

    @property
    def feed(self) -> HallStream:
        """The stream that enters from the top."""
        return self._stream("top")

    @property
    def fuel_stream(self) -> HallStream:
        """The stream that enters from the side."""
        return self._stream("side")

    @property
    def product(self) -> str:
        """The kind that ``fires`` fires to. Raises ValueError where it fires to nothing (no hall that was read)."""
        kind = self.items.get(self.fires)
        if kind is None or kind.fires_to is None:
            raise ValueError(f"{self.fires} fires to nothing")
        return kind.fires_to

    @property
    def burn(self) -> int:
        """Ticks that one piece of the fuel burns; 0: it does not burn (no hall that was read)."""
        kind = self.items.get(self.fuel)
        return kind.burn if kind else 0

    def stack_of(self, item: str) -> int:
        """How many items of a kind one slot takes."""
        listed = self.items.get(item)
        return (listed.stack if listed else None) or self.rules.stack

    def limit(self, kind: str) -> PartLimit:
        """The limit and price of one kind of part."""
        return self.limits.get(kind, PartLimit())

    def _stream(self, face: Face) -> HallStream:
        return next(stream for stream in self.streams if stream.enters == face)
