"""A layout: what stands where, which items there are, and what is to be split (formats, "Layout")."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from sim.world.geometry import Cell
from sim.world.parts import Bin, Container, Furnace, Node, Part
from sim.world.rulebook import Rules


@dataclass(frozen=True, slots=True)
class ItemKind:
    """One kind of item. ``stack``: limit of one slot (``None``: the rulebook's); ``fires_to``: the product it fires to;
    ``burn``: ticks that one item burns as fuel (0: it does not burn)."""

    stack: int | None = None
    fires_to: str | None = None
    burn: int = 0


@dataclass(frozen=True, slots=True)
class Stream:
    """A named flow of one item kind from a source bin to the outputs among which it is to be split evenly."""

    name: str
    item: str
    source: Cell
    outputs: tuple[Cell, ...]


@dataclass(frozen=True)
class Layout:
    """An immutable build. The order of ``parts`` is the default update order and the file order of signal parts.

    ``rules`` holds the overrides of the rulebook that the file states.
    """

    title: str
    size: tuple[int, int, int]
    items: Mapping[str, ItemKind] = field(default_factory=dict)
    parts: tuple[Part, ...] = ()
    streams: tuple[Stream, ...] = ()
    rules: Mapping[str, int] = field(default_factory=dict)

    @cached_property
    def by_cell(self) -> dict[Cell, Part]:
        """Every part under its cell."""
        return {part.at: part for part in self.parts}

    @cached_property
    def containers(self) -> tuple[Container, ...]:
        """Bins, nodes and furnaces in file order."""
        return tuple(part for part in self.parts if isinstance(part, (Bin, Node, Furnace)))

    @cached_property
    def machines(self) -> tuple[Node | Furnace, ...]:
        """What takes a turn in the machine phase, in the default update order."""
        return tuple(part for part in self.parts if isinstance(part, (Node, Furnace)))

    def rules_in_force(self, base: Rules) -> Rules:
        """``base`` with this layout's overrides."""
        return base.with_overrides(self.rules)

    def stack_limit(self, rules: Rules) -> Callable[[str], int]:
        """How many items of a kind one slot takes: what the layout says of the kind, else ``rules``, those in force."""
        limits = {kind: item.stack or rules.stack for kind, item in self.items.items()}
        return lambda kind: limits.get(kind, rules.stack)
