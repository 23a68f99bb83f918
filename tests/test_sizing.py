"""The production arithmetic of a hall: by hand, against textbook formulas, against networkx's maximum flow."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from math import ceil, floor

import networkx as nx
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sim.world.files.plan import layout_from_plan
from sim.world.rulebook import Rules, default_rules
from sim.world.world import World
from synth.hall.spec_file import hall_from_toml
from synth.sizing.plant import Plant, burn_fault, furnaces_for, output_fault, side_sizes
from synth.sizing.size import Sizing, size_of, size_of_plant
from synth.sizing.stations import Station, by_utilisation, process_capacity

RULES = default_rules()
CHARCOAL = 1600
HALL = '[hall]\nfires = "clay"\nfuel = "charcoal"\n{}\n[items.clay]\nfires_to = "brick"\n'


def plant(furnaces: int | None = 16, output: int | None = None, sides: int = 1, rules: Rules = RULES) -> Plant:
    wanted = None if output is None else Fraction(output)
    return Plant(rules, CHARCOAL, furnaces, wanted, sides, 1, rules.stack, rules.stack, rules.stack)


def values(sizing: Sizing, *names: str) -> tuple[object, ...]:
    return tuple(sizing.value(name) for name in names)


# --- by hand


def test_sixteen_furnaces_on_one_side_by_hand() -> None:
    """20 ticks a second, 200 ticks a firing, 1600 ticks a charcoal, 8 ticks a node's move, bins of 27 x 64.

    One furnace: 3600 s x 20 / 200 = 360 an hour. Sixteen: 16 x 360 = 5760.
    Fuel: 1600 / 200 = 8 bricks a charcoal, 5760 / 8 = 720 an hour; so also 16 fires x 72000 / 1600 = 720.
    A node: 3600 x 20 / 8 = 9000 an hour; 9000 / 360 = 25 furnaces on a feed row or a product line;
    a furnace burns 72000 / 1600 = 45 an hour, 9000 / 45 = 200 furnaces on a fuel row.
    A bin: 27 x 64 = 1728; of clay or bricks 1728 / 5760 h = 18 min, of charcoal 1728 / 720 h = 144 min.
    """
    sizing = size_of_plant(plant())
    assert values(sizing, "furnace_output", "full_output", "output") == (360, 5760, 5760)
    assert values(sizing, "feed", "product", "fuel", "fuel_most") == (5760, 5760, 720, 720)
    assert values(sizing, "node_output", "feed_rows_serve", "product_lines_serve", "fuel_rows_serve") == (
        9000, 25, 25, 200,
    )  # fmt: skip
    assert values(sizing, "feed_bin", "feed_lasts", "product_fills", "fuel_lasts") == (1728, 18, 18, 144)
    assert (sizing.furnaces, sizing.feed_rows, sizing.fuel_rows, sizing.product_lines) == (16, 1, 1, 1)
    # Nodes: 16 above and 16 at the furnaces, 1 more below the source, each 5 x 64 items.
    assert values(sizing, "feed_in_nodes", "product_in_nodes") == (33 * 320, 16 * 320)


def test_two_sides_by_hand() -> None:
    """Each side 2880 of the 5760, its own rows and bins: 1728 / 2880 h = 36 min, 1728 / 360 h = 288 min."""
    sizing = size_of_plant(plant(sides=2))
    assert (sizing.side_sizes, sizing.feed_rows, sizing.fuel_rows, sizing.product_lines) == ((8, 8), 2, 2, 2)
    assert values(sizing, "feed_rows_a_side", "feed_rows_least", "feed_sources") == (1, 1, 2)
    assert values(sizing, "feed_lasts", "fuel_lasts", "product_fills") == (36, 288, 18)
    assert sizing.value("lines_a_product_bin") == 2
    assert sizing.value("one_row_output") == 5760


def test_an_output_alone_by_hand() -> None:
    """5000 / 360 = 13.9: 14 furnaces, which could make 5040, so they are used 5000 / 5040 of the time.

    Fuel, were fires never idle: 5000 / 8 = 625; fires that never go out: 14 x 45 = 630.
    """
    sizing = size_of_plant(plant(None, 5000))
    assert sizing.capacity == 5040
    assert values(sizing, "furnaces", "output") == (14, 5000)
    assert values(sizing, "fuel", "fuel_most", "furnace_use") == (625, 630, Fraction(5000, 5040))


def test_slack_work_may_burn_a_fuel_item_for_each_product() -> None:
    """16 furnaces for 100 an hour, each item alone: a fire each, 100; never more than 16 x 45 = 720."""
    assert values(size_of_plant(plant(16, 100)), "fuel", "fuel_most") == (Fraction(25, 2), 100)


def test_a_side_that_one_feed_row_cannot_keep_going() -> None:
    """64 furnaces on one side want 64 x 360 = 23040: 2.56 nodes, 3 rows, used 23040 / 27000; one row makes 9000."""
    sizing = size_of_plant(plant(64))
    assert (sizing.feed_rows, sizing.product_lines, sizing.fuel_rows) == (3, 3, 1)
    assert sizing.value("one_row_output") == 9000
    assert next(one for one in sizing.stations if one.name == "feed rows").utilisation == Fraction(23040, 27000)
    # 23040 / 3 = 7680 out of each of three bins: 1728 / 7680 h = 13.5 min.
    assert sizing.value("feed_lasts") == Fraction(27, 2)


def test_sides_that_do_not_come_out_even() -> None:
    """51 furnaces: 26 and 25. 26 x 360 = 9360 is more than a node's 9000: 2 rows; 25 x 360 = 9000: 1 row, full."""
    sizing = size_of_plant(plant(51, sides=2))
    assert sizing.side_sizes == (26, 25)
    assert values(sizing, "feed_rows", "feed_rows_a_side") == (3, 2)
    assert [one.name for one in sizing.bottleneck] == ["furnaces", "feed rows", "product lines"]
    # The row of the side of 25 carries 9000 an hour, the others 9360 / 2 each.
    assert sizing.value("feed_lasts") == Fraction(60 * 1728, 9000)


def test_a_furnace_faster_than_its_nodes() -> None:
    """Firing in 4 ticks, moves in 8: the nodes decide, 9000 an hour a furnace, and the furnaces are half used."""
    sizing = size_of_plant(plant(2, rules=replace(RULES, firing=4)))
    assert values(sizing, "furnace_time", "furnace_output", "output") == (8, 9000, 18000)
    assert "furnaces" not in [one.name for one in sizing.bottleneck]
    assert "feed nodes at the furnaces" in [one.name for one in sizing.bottleneck]
    assert sizing.stations[0].utilisation == Fraction(1, 2)


def test_a_fuel_row_that_is_the_narrowest() -> None:
    """Fuel that burns 8 ticks: 200 / 8 = 25 for a brick, so that the 9000 of one row are good for 360 bricks."""
    sizing = size_of_plant(replace(plant(16, sides=2), burn=8))
    assert values(sizing, "fuel", "fuel_most", "fuel_rows_serve") == (144000, 144000, 1)
    assert values(sizing, "fuel_rows_a_side", "fuel_rows", "one_row_output") == (8, 16, 720)


def test_the_size_of_a_spec() -> None:
    sizing = size_of(hall_from_toml(HALL.format("output = 5000\nsides = 2") + "stack = 16\n[rules]\nfiring = 100\n"))
    # 720 an hour a furnace: 5000 / 720 = 6.9.
    assert (sizing.furnaces, sizing.side_sizes) == (7, (4, 3))
    assert values(sizing, "feed_bin", "fuel_bin") == (27 * 16, 27 * 64)


def test_what_the_furnaces_cannot_make() -> None:
    assert output_fault(plant(16, 5760)) is None
    told = "is more than 16 furnaces can fire: at most 5760 an hour; it takes 17 furnaces"
    assert output_fault(plant(16, 5761)) == told
    assert burn_fault(8, RULES) is None
    assert burn_fault(7, RULES) is not None
    with pytest.raises(ValueError, match="neither"):
        size_of_plant(plant(None, None))


def test_one_furnace_in_the_simulator_makes_what_the_formula_says() -> None:
    """A bin of clay above, charcoal beside, nodes between: after the first brick one every ``furnace_time`` ticks."""
    layout = layout_from_plan(
        "splitwright-plan/1\nitem clay fires-to brick\nitem charcoal burn 1600\n"
        "holds 1,0,3 clay 64 64\nholds 0,0,2 charcoal 64\n"
        "layer 0\n. nD\nlayer 1\nnE F\nlayer 2\nB* nD\nlayer 3\n. B\n"
    )
    world = World(layout, RULES)
    made: list[int] = []
    for tick in range(1, 1 + 40 * 200):
        world.advance()
        count = bricks_under(world)
        made.extend([tick] * (count - len(made)))
    time = size_of_plant(plant(1)).value("furnace_time")
    assert len(made) >= 35
    assert (made[-1] - made[2]) / (len(made) - 3) == time


def bricks_under(world: World) -> int:
    """Bricks that the node under the furnace has taken."""
    return sum(world.stores[(1, 0, 0)].counts)


# --- textbook formulas (operations management, from memory)

AN_HOUR = 3600 * RULES.ticks_per_second


@pytest.mark.parametrize(("output", "furnaces"), [(1, 1), (360, 1), (361, 2), (5000, 14), (5760, 16), (5761, 17)])
def test_theoretical_minimum_number_of_workstations(output: int, furnaces: int) -> None:
    """Line balancing: cycle time C = time available / output wanted; N = task time / C, rounded up.

    (Stevenson, Operations Management, chapter on layout; from memory.)
    """
    cycle = Fraction(AN_HOUR, output)
    assert ceil(RULES.firing / cycle) == furnaces
    sizing = size_of_plant(plant(None, output))
    assert values(sizing, "cycle_time", "fewest_stations", "furnaces") == (cycle, furnaces, furnaces)


def test_the_bottleneck_of_a_textbook_process() -> None:
    """Capacity of a station = servers / service time; of the process = the least; utilisation = load / capacity.

    (Cachon and Terwiesch, Matching Supply with Demand; from memory. The numbers are ours.) Three stations of 2 servers
    at 10 min, 1 at 4 min, 3 at 20 min: 12, 15 and 9 an hour. At 6 an hour they are used 1/2, 2/5 and 2/3.
    """
    stations = [
        Station(name, Fraction(6), Fraction(servers * 60, minutes), Fraction(1), "")
        for name, servers, minutes in (("dry", 2, 10), ("load", 1, 4), ("fire", 3, 20))
    ]
    assert [one.capacity for one in stations] == [12, 15, 9]
    assert process_capacity(stations) == 9
    assert [group[0].name for group in by_utilisation(stations)] == ["fire", "dry", "load"]
    assert [group[0].utilisation for group in by_utilisation(stations)] == [
        Fraction(2, 3), Fraction(1, 2), Fraction(2, 5),
    ]  # fmt: skip


# --- maximum flow over the stations


def flow_through(sizing: Sizing) -> Fraction:
    """Products an hour by networkx's maximum flow: source, feed rows, furnaces with their nodes, lines, product bin.

    Built from rules and numbers alone, not from the stations. Capacities are whole numbers of an hour's products,
    times what makes them whole; a place with a capacity is an edge from its "in" to its "out".
    """
    rules, scale = sizing.plant.rules, sizing.plant.rules.firing * sizing.plant.rules.period
    graph: nx.DiGraph[object] = nx.DiGraph()
    hour = 3600 * rules.ticks_per_second * scale
    sides, output = sizing.side_sizes, sizing.output
    for s, side in enumerate(sides):
        share = output * side / sizing.furnaces
        rows = ceil(share * rules.period / (3600 * rules.ticks_per_second))
        for prefix in ("feed", "lines"):
            graph.add_edge((prefix, s, "in"), (prefix, s, "out"), capacity=rows * (hour // rules.period))
        graph.add_edge("source", ("feed", s, "in"))
        graph.add_edge(("lines", s, "out"), "bin")
        for f in range(side):
            graph.add_edge(("feed", s, "out"), ("top", s, f), capacity=hour // rules.period)
            graph.add_edge(("top", s, f), ("under", s, f), capacity=hour // rules.firing)
            graph.add_edge(("under", s, f), ("lines", s, "in"), capacity=hour // rules.period)
    return Fraction(int(nx.maximum_flow_value(graph, "source", "bin")), scale)


@pytest.mark.parametrize(
    ("furnaces", "output", "sides", "firing"),
    [
        (16, None, 2, 200),
        (64, None, 1, 200),
        (51, None, 2, 200),
        (25, None, 1, 200),
        (14, 5000, 2, 200),
        (30, 8900, 1, 200),
        (60, 15000, 2, 200),
        (3, None, 1, 4),
        (5, None, 2, 12),
    ],
)
def test_the_bottleneck_against_maximum_flow(furnaces: int, output: int | None, sides: int, firing: int) -> None:
    """With sides alike the flow is what the bottleneck is good for; with uneven ones a side may have more to spare than
    the busiest, by whose measure the bottleneck goes, so that the flow is no less."""
    sizing = size_of_plant(plant(furnaces, output, sides, replace(RULES, firing=firing)))
    flow = flow_through(sizing)
    assert flow >= sizing.capacity >= sizing.output
    if len(set(sizing.side_sizes)) == 1:
        assert flow == sizing.capacity


def test_a_cut_that_is_narrower_shows_in_both() -> None:
    """60 furnaces on two sides for 15000 an hour: each side's row carries 9000, so 18000 of the 21600 are possible."""
    sizing = size_of_plant(plant(60, 15000, 2))
    assert sizing.feed_rows == 2
    assert sizing.capacity == flow_through(sizing) == 18000
    assert [one.name for one in sizing.bottleneck] == ["feed rows", "product lines"]
    assert [one.name for one in sizing.next_bottleneck] == ["furnaces"]


# --- properties

NUMBERS = st.integers(1, 400)
RULESETS = st.builds(
    lambda firing, period, second: replace(RULES, firing=firing, period=period, ticks_per_second=second),
    NUMBERS, st.integers(1, 40), st.integers(1, 60),
)  # fmt: skip


@st.composite
def plants(draw: st.DrawFn) -> Plant:
    rules, furnaces = draw(RULESETS), draw(st.integers(1, 80))
    burn, sides = rules.period + draw(st.integers(0, 2000)), draw(st.integers(1, min(2, furnaces)))
    part = draw(st.none() | st.fractions(Fraction(1, 50), 1))
    full = furnaces * Fraction(3600 * rules.ticks_per_second, max(rules.firing, rules.period))
    return Plant(rules, burn, furnaces, None if part is None else full * part, sides)


PLANTS = plants()


@given(RULESETS, NUMBERS, NUMBERS)
def test_more_output_never_needs_fewer_furnaces(rules: Rules, output: int, more: int) -> None:
    few, many = furnaces_for(Fraction(output), rules), furnaces_for(Fraction(output + more), rules)
    assert few <= many


@given(RULESETS, st.integers(1, 100_000))
def test_the_fewest_furnaces_make_the_output_and_one_less_does_not(rules: Rules, output: int) -> None:
    sizing = size_of_plant(Plant(rules, rules.period, output=Fraction(output)))
    each = sizing.value("furnace_output")
    assert (sizing.furnaces - 1) * each < output <= sizing.furnaces * each
    assert sizing.capacity >= output


@given(PLANTS)
def test_the_bottleneck_is_the_most_used_and_the_least_able(plant: Plant) -> None:
    sizing = size_of_plant(plant)
    assert {one.utilisation for one in sizing.bottleneck} == {max(one.utilisation for one in sizing.stations)}
    assert {one.products for one in sizing.bottleneck} == {min(one.products for one in sizing.stations)}
    assert sizing.capacity == sizing.bottleneck[0].products == sizing.output / sizing.bottleneck[0].utilisation
    assert sizing.bottleneck[0].utilisation <= 1, "what is laid out can carry what is wanted"
    if sizing.next_bottleneck:
        assert sizing.next_bottleneck[0].utilisation < sizing.bottleneck[0].utilisation


@given(PLANTS)
def test_rows_are_enough_and_one_less_is_not(plant: Plant) -> None:
    sizing = size_of_plant(plant)
    node, n = sizing.value("node_output"), sizing.furnaces
    for load, rows in (("feed", sizing.feed_rows), ("fuel_most", sizing.fuel_rows), ("product", sizing.product_lines)):
        shares = [sizing.value(load) * side / n for side in sizing.side_sizes]
        needed = [next(r for r in range(1, 10_000) if r * node >= share) for share in shares]
        assert rows == sum(needed)
    assert sizing.value("fuel") <= sizing.value("fuel_most")
    assert sum(sizing.side_sizes) == n
    assert max(sizing.side_sizes) - min(sizing.side_sizes) <= 1


@given(st.integers(1, 1000), st.integers(1, 2))
def test_the_first_side_has_one_more(furnaces: int, sides: int) -> None:
    assume(furnaces >= sides)
    assert side_sizes(furnaces, sides) == ((furnaces,) if sides == 1 else ((furnaces + 1) // 2, furnaces // 2))


@given(PLANTS)
def test_each_formula_gives_its_figure(plant: Plant) -> None:
    """The formulas that are plain arithmetic, worked out from their text: what the table says is what was computed."""
    sizing = size_of_plant(plant)
    names = {one.symbol: one.value for one in sizing.figures.values() if one.symbol}
    functions: dict[str, Callable[..., Fraction | int]] = {"ceil": ceil, "floor": floor, "min": min, "max": max}
    worked_out = 0
    for one in sizing.figures.values():
        if one.formula in ("rulebook", "items or rulebook", "stated", "n q (full work)") or "sides" in one.formula:
            continue
        assert eval(python(one.formula), {"__builtins__": {}}, names | functions | {"h": Fraction(3600)}) == one.value
        worked_out += 1
    assert worked_out >= 25


def python(formula: str) -> str:
    """A formula as Python has it: a blank between two factors is a product."""
    text = formula.replace("3600", "h")
    tokens = text.replace("(", " ( ").replace(")", " ) ").replace(",", " , ").split()
    out: list[str] = []
    for token in tokens:
        factor = token not in ("+", "-", "/", ",", ")")
        if out and factor and out[-1] not in ("+", "-", "/", ",", "(", "ceil", "floor", "min", "max"):
            out.append("*")
        out.append(f"h/h*{token}" if token.isdigit() else token)
    return " ".join(out)
