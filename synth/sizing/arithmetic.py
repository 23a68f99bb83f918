"""The formulas of a hall's size, one function a topic.

Rates are bounds of throughput: a node moves at most one item a period. Line balancing, from memory (operations
management texts, e.g. Stevenson): cycle time = time available / output wanted; theoretical minimum number of
workstations = task time / cycle time, rounded up.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

from synth.sizing.figures import Sheet
from synth.sizing.plant import Plant, an_hour, furnace_time, furnaces_of, side_sizes
from synth.sizing.stations import Station

ROWS = (("feed", "feed rows"), ("fuel", "fuel rows"), ("product", "product lines"))
"""What carries items along a side: its prefix, its name."""
WORDS = {"feed": "Q", "fuel": "U", "product": "Q"}
"""Symbol of what they carry an hour."""


def numbers_given(sheet: Sheet, plant: Plant) -> None:
    """The numbers of the rulebook that the formulas use."""
    rules = plant.rules
    sheet.put("ticks_per_second", "ticks a second", "s", "rulebook", rules.ticks_per_second, "ticks")
    sheet.put("firing", "firing of one item", "F", "rulebook", rules.firing, "ticks")
    sheet.put("burn", "fire of one fuel item", "B", "items or rulebook", plant.burn, "ticks")
    sheet.put("period", "a node's time from move to move", "P", "rulebook", rules.period, "ticks")
    sheet.put("node_slots", "slots of a node", "Y", "rulebook", rules.node_slots, "")
    sheet.put("bin_slots", "slots of a bin", "X", "rulebook", rules.bin_slots, "")
    for prefix, stack in (("feed", plant.feed_stack), ("fuel", plant.fuel_stack), ("product", plant.product_stack)):
        sheet.put(
            f"{prefix}_stack", f"{prefix} that one slot takes", f"z_{prefix}", "items or rulebook", stack, "items"
        )
    sheet.put("sides", "sides of the hall", "d", "stated", plant.sides, "")


def furnace_figures(sheet: Sheet, plant: Plant) -> None:
    """What one furnace and one node do, how many furnaces there are, what they make."""
    rules, time = plant.rules, furnace_time(plant.rules)
    each, n = an_hour(rules, time), furnaces_of(plant)
    sheet.put("furnace_time", "a furnace's time from product to product", "t", "max(F, P)", time, "ticks")
    sheet.put("furnace_output", "output of one furnace", "q", "3600 s / t", each, "products/h")
    node = an_hour(rules, Fraction(rules.period))
    sheet.put("node_output", "what one node passes", "v", "3600 s / P", node, "items/h")
    stated = plant.furnaces is not None
    sheet.put("furnaces", "furnaces", "n", "stated" if stated else "ceil(Q / q)", n, "furnaces")
    sheet.put("furnaces_a_side", "furnaces of the larger side", "m", "ceil(n / d)", ceil(Fraction(n, plant.sides)),
              "furnaces")  # fmt: skip
    sheet.put("full_output", "what all furnaces make at full work", "", "n q", n * each, "products/h")
    full, wanted = plant.output is None, plant.output or n * each
    sheet.put("output", "output", "Q", "n q (full work)" if full else "stated", wanted, "products/h")
    sheet.put("furnace_use", "use of the furnaces", "", "Q / (n q)", wanted / (n * each), "")
    cycle = an_hour(rules, wanted)
    sheet.put("cycle_time", "cycle time of the hall", "C", "3600 s / Q", cycle, "ticks")
    sheet.put("fewest_stations", "theoretical minimum number of workstations", "", "ceil(t / C)", ceil(time / cycle),
              "furnaces")  # fmt: skip


def flow_figures(sheet: Sheet, plant: Plant) -> None:
    """Feed, fuel and product an hour.

    A fire burns on whether or not there is something to fire, but is lit only where there is; so below full work the
    fuel lies between that of furnaces that never idle and that of a fire for each item, as far as fires fit into time.
    """
    rules, burn, n, output = plant.rules, plant.burn, sheet["furnaces"], sheet["output"]
    sheet.put("feed", "feed", "", "Q", output, "items/h")
    sheet.put("fuel", "fuel, were fires never idle", "", "Q F / B", output * rules.firing / burn, "items/h")
    alight = n * an_hour(rules, Fraction(burn))
    most = min(output * ceil(Fraction(rules.firing, burn)), alight)
    sheet.put("fuel_most", "fuel at most (fires burn on with nothing to fire)", "U", "min(Q ceil(F / B), n 3600 s / B)",
              most, "items/h")  # fmt: skip
    sheet.put("product", "product", "", "Q", output, "items/h")


def load_of(sheet: Sheet, prefix: str) -> Fraction:
    """Items an hour that rows are laid out for: of fuel, the most that may be needed."""
    return sheet["fuel_most" if prefix == "fuel" else prefix]


def row_figures(sheet: Sheet, plant: Plant) -> None:
    """How many rows and lines throughput alone needs, in all and with each side by itself; what one can serve."""
    node, n, time = sheet["node_output"], int(sheet["furnaces"]), sheet["furnace_time"]
    sides = side_sizes(n, plant.sides)
    for prefix, name in ROWS:
        load, word, kind = load_of(sheet, prefix), WORDS[prefix], name.replace(" ", "_")
        rows = [ceil(load * side / n / node) for side in sides]
        sheet.put(f"{kind}_least", f"{name}, were there no sides", "", f"ceil({word} / v)", ceil(load / node), "")
        sheet.put(f"{kind}_a_side", f"{name} of the larger side", "", f"ceil({word} m / (n v))", max(rows), "")
        sheet.put(kind, f"{name} that throughput needs", f"R_{prefix}", f"sum over sides of ceil({word} side / (n v))",
                  sum(rows), "")  # fmt: skip
        item_time, formula = (plant.burn, "floor(B / P)") if prefix == "fuel" else (time, "floor(t / P)")
        sheet.put(f"{kind}_serve", f"furnaces at full work on one of the {name}", "", formula,
                  floor(Fraction(item_time) / plant.rules.period), "furnaces")  # fmt: skip
    single = sum((min(side * sheet["furnace_output"], node, node * plant.burn / time) for side in sides), Fraction(0))
    sheet.put("one_row_output", "most with one row or line of each sort a side", "",
              "sum over sides of min(side q, v, v B / t)", single, "products/h")  # fmt: skip


def bin_figures(sheet: Sheet, plant: Plant) -> None:
    """Source and product bins: how many lines, how many items, for how long.

    Below a source bin there is room for one node, so each row has a bin of its own, or one bin feeds splits in front of
    all rows.
    """
    n, sides = int(sheet["furnaces"]), side_sizes(int(sheet["furnaces"]), plant.sides)
    slots = plant.rules.bin_slots
    for prefix, stack in (("feed", plant.feed_stack), ("fuel", plant.fuel_stack)):
        load, word = load_of(sheet, prefix), WORDS[prefix]
        rows, bins = int(sheet[f"{prefix}_rows"]), plant.inputs
        sheet.put(f"{prefix}_sources", f"outgoing lines from {prefix} sources, one a bin", "",
                  f"R_{prefix}" if bins is None else "stated", rows if bins is None else bins, "")  # fmt: skip
        sheet.put(f"{prefix}_bin", f"items in a full {prefix} bin", f"b_{prefix}", f"X z_{prefix}", slots * stack,
                  "items")  # fmt: skip
        busiest = max(load * side / n / ceil(load * side / n / sheet["node_output"]) for side in sides)
        formula = f"60 b_{prefix} / max over sides of ({word} side / n / rows)"
        if bins is not None:
            busiest, formula = load / bins, f"60 b_{prefix} / {word}"
        sheet.put(f"{prefix}_lasts", f"a full {prefix} bin lasts, at its fastest", "", formula,
                  60 * slots * stack / busiest, "min")  # fmt: skip
    bins, lines = plant.product_bins, int(sheet["product_lines"])
    sheet.put("product_bins", "product bins", "k", "stated", bins, "")
    sheet.put("lines_a_product_bin", "lines into a product bin", "", "ceil(R_product / k)",
              ceil(Fraction(lines, bins)), "")  # fmt: skip
    full = slots * plant.product_stack
    sheet.put("product_bin", "items in a full product bin", "b_product", "X z_product", full, "items")
    sheet.put("product_fills", "the product bins are full after", "", "60 k b_product / Q",
              60 * bins * full / sheet["output"], "min")  # fmt: skip


def transit_figures(sheet: Sheet, plant: Plant) -> None:
    """Items in the nodes when everything is stopped up: a row has a node above each of its furnaces' own nodes, and one
    more below the source; a product line has at least a node under each furnace."""
    n = sheet["furnaces"]
    for prefix, stack in (("feed", plant.feed_stack), ("fuel", plant.fuel_stack)):
        nodes = 2 * n + sheet[f"{prefix}_rows"]
        sheet.put(f"{prefix}_in_nodes", f"{prefix} in full nodes, at most", "",
                  f"(2 n + R_{prefix}) Y z_{prefix}",
                  nodes * plant.rules.node_slots * stack, "items")  # fmt: skip
    sheet.put("product_in_nodes", "product in full nodes under the furnaces", "", "n Y z_product",
              n * plant.rules.node_slots * plant.product_stack, "items")  # fmt: skip


def stations_of(sheet: Sheet, plant: Plant) -> tuple[Station, ...]:
    """The stations that every product passes, with what each can pass as the sheet has them."""
    n, node, output = int(sheet["furnaces"]), sheet["node_output"], sheet["output"]
    sides = side_sizes(n, plant.sides)
    firing = an_hour(plant.rules, Fraction(plant.rules.firing))
    found = [Station("furnaces", output, n * firing, Fraction(1), "n 3600 s / F")]
    for prefix, name in ROWS:
        load = load_of(sheet, prefix)
        at = "product nodes" if prefix == "product" else f"{prefix} nodes at the furnaces"
        rows = min(ceil(load * side / n / node) * node * n / side for side in sides)
        if plant.inputs is not None and prefix != "product":
            found.append(Station(f"{prefix} bin", load, plant.inputs * node, load / output, "v"))
        found.append(Station(name, load, rows, load / output, "min over sides of rows v n / side"))
        found.append(Station(at, load, n * node, load / output, "n v"))
    return tuple(found)
