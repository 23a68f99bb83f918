"""What limits the output of a hall, each bound with its formula."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sim.analysis.production.lines import ProductLine
from sim.analysis.production.supply import Inlet
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.rulebook import Rules


@dataclass(frozen=True, slots=True)
class Bound:
    """No more than so many products an hour, and why."""

    what: str
    per_hour: Fraction
    formula: str


def bounds_of(
    layout: Layout, rules: Rules, furnaces: Sequence[Cell], inlets: Iterable[Inlet], lines: Sequence[ProductLine]
) -> tuple[Bound, ...]:
    """The bounds of furnaces, feed rows, fuel rows and product lines; the smallest one decides."""
    rules = layout.rules_in_force(rules)
    hour = 3600 * rules.ticks_per_second
    each, node = Fraction(hour, rules.firing), Fraction(hour, rules.period)
    n = len(furnaces)
    found = [Bound("furnaces", n * each, f"{n} x 3600 x {rules.ticks_per_second} / {rules.firing}")]
    inlets = list(inlets)
    feeds = [inlet for inlet in inlets if inlet.role == "feed"]
    share = sum((min(node, each * len(one.stream.outputs)) for one in feeds), Fraction(0))
    row = f"3600 x {rules.ticks_per_second} / {rules.period} a row"
    found.append(Bound("feed rows", share, f"{row}, or what its furnaces fire, summed over {len(feeds)}"))
    fuels = [inlet for inlet in inlets if inlet.role == "fuel"]
    found.append(Bound("fuel rows", sum((_fuelled(layout, rules, one, each, node) for one in fuels), Fraction(0)),
                       f"{row} x burn / {rules.firing}, or what its furnaces fire, summed over {len(fuels)}"))
    carried = sum((line.rate for line in lines), Fraction(0))
    found.append(Bound("product lines", carried, f"largest flow, a node 3600 x {rules.ticks_per_second} / "
                       f"{rules.period}, summed over {len(lines)}"))
    return tuple(found)


def _fuelled(layout: Layout, rules: Rules, inlet: Inlet, each: Fraction, node: Fraction) -> Fraction:
    """Products an hour that the fuel of one row is good for."""
    item = layout.items.get(inlet.stream.item)
    burn = item.burn if item else 0
    return min(node * burn / rules.firing, each * len(inlet.stream.outputs))
