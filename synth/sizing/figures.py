"""Figures with their formula and unit, in the order in which they were worked out."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Figure:
    """``symbol``: how other formulas call it; ``formula``: in such symbols, or where the number is from."""

    name: str
    about: str
    symbol: str
    formula: str
    value: Fraction
    unit: str


@dataclass(frozen=True)
class Sheet:
    """Figures by name."""

    figures: dict[str, Figure] = field(default_factory=dict)

    def put(self, name: str, about: str, symbol: str, formula: str, value: Fraction | int, unit: str) -> None:
        """Add a figure."""
        self.figures[name] = Figure(name, about, symbol, formula, Fraction(value), unit)

    def __getitem__(self, name: str) -> Fraction:
        return self.figures[name].value
