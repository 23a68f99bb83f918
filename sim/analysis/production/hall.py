"""What a hall is: a layout looked at as streams, furnaces and product lines, made ready for many runs."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from sim.analysis.production.bounds import Bound, bounds_of
from sim.analysis.production.lines import ProductLine, line_findings, product_lines
from sim.analysis.production.supply import Inlet, inlets_of
from sim.errors import InputError
from sim.world.geometry import Cell, cell_text
from sim.world.kernel.tables import Tables
from sim.world.layout import Layout
from sim.world.parts import Furnace
from sim.world.rulebook import Rules

FOREIGN = ("sand", "gravel", "flint")
"""Items that do not belong: the first one that the layout does not know."""


@dataclass(frozen=True)
class Hall:
    """A layout under a rulebook. ``gone``: the furnace that is taken away where one is.

    Raises InputError where there is nothing to be tried: no furnace, or no stream.
    """

    layout: Layout
    base: Rules
    asked_furnace: Cell | None = None
    furnaces: tuple[Cell, ...] = field(init=False)

    def __post_init__(self) -> None:
        furnaces = tuple(part.at for part in self.layout.parts if isinstance(part, Furnace))
        object.__setattr__(self, "furnaces", furnaces)
        if not furnaces:
            raise InputError("there is no furnace; a working shift needs one", field="parts")
        if not self.layout.streams:
            raise InputError("there is no stream to be supplied; name feed and fuel", field="streams")
        if self.asked_furnace is not None and self.asked_furnace not in furnaces:
            known = ", ".join(map(cell_text, furnaces[:4])) + (" ..." if len(furnaces) > 4 else "")
            raise InputError(f"no furnace stands at {cell_text(self.asked_furnace)}; furnaces are at {known}",
                             file="--furnace")

    @cached_property
    def rules(self) -> Rules:
        """The numbers in force."""
        return self.layout.rules_in_force(self.base)

    @cached_property
    def foreign(self) -> str:
        """An item kind that neither fires nor burns here."""
        return next((kind for kind in FOREIGN if kind not in self.layout.items), "foreign item")

    @cached_property
    def tables(self) -> Tables:
        """The layout in the kernel."""
        return Tables(self.layout, self.base, kinds=(self.foreign,))

    @cached_property
    def inlets(self) -> tuple[Inlet, ...]:
        """The streams with their roles."""
        return inlets_of(self.layout)

    @cached_property
    def lines(self) -> tuple[ProductLine, ...]:
        """The product lines."""
        return tuple(product_lines(self.layout, self.base))

    @cached_property
    def findings(self) -> tuple[str, ...]:
        """What is wrong with the product lines and the streams, before anything runs."""
        found = [one.text for one in line_findings(self.layout, self.lines)]
        for role in ("feed", "fuel"):
            served = {cell for inlet in self.inlets if inlet.role == role for cell in inlet.stream.outputs}
            found += [
                f"no {role} stream names the furnace at {cell_text(cell)}; add it to the outputs of one"
                for cell in self.furnaces
                if cell not in served
            ]
        return tuple(found)

    @cached_property
    def product_bins(self) -> tuple[Cell, ...]:
        """The bins at the ends of the product lines."""
        return tuple(dict.fromkeys(cell for line in self.lines for cell in line.bins))

    @cached_property
    def product(self) -> str | None:
        """What the first feed stream's item fires to."""
        for inlet in self.inlets:
            item = self.layout.items.get(inlet.stream.item)
            if inlet.role == "feed" and item is not None and item.fires_to is not None:
                return item.fires_to
        return None

    @property
    def gone(self) -> Cell:
        """The furnace that is taken away: the one asked for, or the middle one in file order."""
        return self.asked_furnace or self.furnaces[len(self.furnaces) // 2]

    @cached_property
    def bounds(self) -> tuple[Bound, ...]:
        """What limits the output."""
        return bounds_of(self.layout, self.base, self.furnaces, self.inlets, self.lines)

    def inlets_for(self, role: str) -> list[Inlet]:
        """The streams of one role."""
        return [inlet for inlet in self.inlets if inlet.role == role]

    def burn(self, kind: str) -> int:
        """Ticks that one item burns (0: it does not burn)."""
        item = self.layout.items.get(kind)
        return item.burn if item else 0

    def fires(self, kind: str) -> bool:
        """The kind fires to something."""
        item = self.layout.items.get(kind)
        return item is not None and item.fires_to is not None
