"""What the arithmetic of a hall starts from, and how many furnaces an output takes."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import Final

from sim.world.files.places import counted
from sim.world.rulebook import Rules

FURNACES_MOST: Final = 1000
"""Largest hall that is looked at."""


@dataclass(frozen=True, slots=True)
class Plant:
    """A hall as numbers.

    ``burn``: ticks that one fuel item burns, at least a period. ``furnaces``, ``output`` (products an hour): at least
    one of them is given; without an output the furnaces go as fast as they can. ``inputs``: source bins of each stream
    (None: one for each row). ``..._stack``: slot limits.
    """

    rules: Rules
    burn: int
    furnaces: int | None = None
    output: Fraction | None = None
    sides: int = 1
    product_bins: int = 1
    feed_stack: int = 1
    fuel_stack: int = 1
    product_stack: int = 1
    inputs: int | None = None


def an_hour(rules: Rules, ticks: Fraction) -> Fraction:
    """How often an hour something happens that takes so many ticks."""
    return 3600 * rules.ticks_per_second / ticks


def furnace_time(rules: Rules) -> Fraction:
    """Ticks from one product of a furnace to its next at full work: firing, or the nodes that bring feed and take
    product where they are slower."""
    return Fraction(max(rules.firing, rules.period))


def furnaces_for(output: Fraction, rules: Rules) -> int:
    """The fewest furnaces that make ``output`` products an hour."""
    return ceil(output / an_hour(rules, furnace_time(rules)))


def burn_fault(burn: int, rules: Rules) -> str | None:
    """What is wrong with the fuel's burn: it is out before a node can bring the next; None: nothing."""
    if burn >= rules.period:
        return None
    return f"burns {counted(burn, 'tick')}, and a node brings the next in {rules.period}: its fire goes out between"


def output_fault(plant: Plant) -> str | None:
    """What is wrong with the output: the furnaces cannot make it, or it takes too many; None: nothing."""
    if plant.output is None:
        return None
    needed, each = furnaces_for(plant.output, plant.rules), an_hour(plant.rules, furnace_time(plant.rules))
    if needed > FURNACES_MOST:
        most = int(FURNACES_MOST * each)
        return f"takes {counted(needed, 'furnace')}, more than {FURNACES_MOST}; at most {most} an hour"
    if plant.furnaces is not None and needed > plant.furnaces:
        able = f"{counted(plant.furnaces, 'furnace')} can fire: at most {int(plant.furnaces * each)} an hour"
        return f"is more than {able}; it takes {counted(needed, 'furnace')}"
    return None


def furnaces_of(plant: Plant) -> int:
    """The furnaces as given, or as many as the output takes. Raises ValueError where neither is given."""
    if plant.furnaces is not None:
        return plant.furnaces
    if plant.output is None:
        raise ValueError("neither furnaces nor an output")
    return furnaces_for(plant.output, plant.rules)


def side_sizes(furnaces: int, sides: int) -> tuple[int, ...]:
    """Furnaces of each side; the first sides have one more where they do not come out even."""
    each, more = divmod(furnaces, sides)
    return tuple(each + (1 if i < more else 0) for i in range(sides))
