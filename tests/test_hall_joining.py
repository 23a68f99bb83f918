"""Wings joined to halls: who stands where, whose signals stay where, and where the product goes."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hall_kits import RULES, kit, small_hall, solved, wing
from sim.analysis.checks import design_findings
from sim.analysis.couplings import couplings
from sim.analysis.production.lines import product_lines
from sim.world.geometry import Cell, step
from sim.world.layout import ItemKind, Layout
from sim.world.parts import Bin, Furnace, Line, Node, Part, Support
from synth.ask.hall_spec import HallSpec
from synth.hall.joining import MIRRORED, Gaps, Joined, joined
from synth.hall.kits import Kit
from synth.hall.lanes import HEIGHT, End
from synth.hall.putting_together import Misfit, OtherBins, layout_of, out_of_reach, put_together, shared_out, wings_of
from synth.hall.wing import Place, Wing
from synth.model.decode import reading_order
from synth.model.images import TURNS, turned, turned_cell, turned_part

ENDS: tuple[End, ...] = ("tail", "head")
LANES_DEEP = 4
"""Lanes of a wing of undrained rows: furnaces, fuel row, one of wiring on either side."""
sides_of_wings = st.lists(st.lists(st.integers(2, 9), min_size=1, max_size=4), min_size=1, max_size=2)


def hall_of(sides: list[list[int]], end: End = "tail", columns: int = 1) -> Joined:
    return joined([[wing(n, end) for n in side] for side in sides], Gaps(columns))


def as_layout(hall: Joined) -> Layout:
    items = {"clay": ItemKind(fires_to="brick"), "charcoal": ItemKind(burn=1600)}
    streams = (*hall.streams("top", "feed", "clay"), *hall.streams("side", "fuel", "charcoal"))
    return Layout("hall", hall.size, items, tuple(hall.parts()), streams)


def part_of(kind: type[Part], layout: Layout, cell: Cell) -> bool:
    return isinstance(layout.by_cell.get(cell), kind)


@given(sides=sides_of_wings, end=st.sampled_from(ENDS), columns=st.integers(0, 3))
@settings(max_examples=60)
def test_no_two_parts_in_one_cell_and_all_inside(sides: list[list[int]], end: End, columns: int) -> None:
    hall = hall_of(sides, end, columns)
    parts = hall.parts()
    assert len({part.at for part in parts}) == len(parts)
    for part in parts:
        assert all(0 <= part.at[axis] < hall.size[axis] for axis in range(3))
    for axis in range(3):
        at = {part.at[axis] for part in parts}
        assert (min(at), max(at)) == (0, hall.size[axis] - 1), "no empty rim"
    assert hall.size[2] == HEIGHT
    assert hall.size[1] == (2 * LANES_DEEP + 1 if len(sides) == 2 else LANES_DEEP + 1)
    assert parts == sorted(parts, key=lambda part: reading_order(part.at))


@given(sides=sides_of_wings, end=st.sampled_from(ENDS), columns=st.integers(0, 3))
@settings(max_examples=60)
def test_each_furnace_has_its_three_nodes(sides: list[list[int]], end: End, columns: int) -> None:
    """One B of the feed row above, one of the fuel row at a side, one product node below: no other touches it so."""
    layout = as_layout(hall_of(sides, end, columns))
    furnaces = [part.at for part in layout.parts if isinstance(part, Furnace)]
    assert len(furnaces) == sum(map(sum, sides))
    into = Counter(step(part.at, part.outlet) for part in layout.parts if isinstance(part, Node))
    for cell in furnaces:
        above = layout.by_cell[step(cell, "U")]
        assert isinstance(above, Node)
        assert above.outlet == "D"
        assert part_of(Node, layout, step(cell, "D"))
        pushing = [
            part for side in ("E", "W", "N", "S")
            if isinstance(part := layout.by_cell.get(step(cell, side)), Node) and step(part.at, part.outlet) == cell
        ]  # fmt: skip
        assert len(pushing) == 1
        assert into[cell] == 2
        assert part_of(Node, layout, step(pushing[0].at, "U")), "B hangs below its T"


@given(sides=sides_of_wings, end=st.sampled_from(ENDS), columns=st.integers(0, 3))
@settings(max_examples=60)
def test_all_product_comes_to_a_bin(sides: list[list[int]], end: End, columns: int) -> None:
    """Wings that stand at the same place along the hall share their bin."""
    hall = hall_of(sides, end, columns)
    layout = as_layout(hall)
    lines = product_lines(layout, RULES)
    assert len(lines) == max(map(len, sides))
    assert {cell for line in lines for cell in line.furnaces} == {
        part.at for part in layout.parts if isinstance(part, Furnace)
    }
    for line in lines:
        assert line.bins
        assert not line.dead_ends
        assert not line.into
    assert set(hall.product_bins) == {cell for line in lines for cell in line.bins}
    assert len(hall.product_bins) == max(map(len, sides))
    ground = {part.at for part in layout.parts if isinstance(part, Node) and part.at[2] == 0}
    assert ground == {cell for line in lines for cell in line.nodes}


@given(sides=sides_of_wings, end=st.sampled_from(ENDS), bins=st.integers(1, 5))
@settings(max_examples=40)
def test_fewer_bins_are_reached_along_the_middle(sides: list[list[int]], end: End, bins: int) -> None:
    hall = joined([[wing(n, end) for n in side] for side in sides], Gaps(1), bins)
    layout = as_layout(hall)
    assert len({part.at for part in layout.parts}) == len(layout.parts)
    assert len(hall.product_bins) == min(bins, max(map(len, sides)))
    lines = product_lines(layout, RULES)
    assert {cell for line in lines for cell in line.furnaces} == {
        part.at for part in layout.parts if isinstance(part, Furnace)
    }
    assert all(len(line.bins) == 1 and not line.dead_ends and not line.into for line in lines)
    assert {cell for line in lines for cell in line.bins} == set(hall.product_bins)
    assert {node.at for node in hall.collectors} < {cell for line in lines for cell in line.nodes}
    assert design_findings(layout, RULES) == []


@given(sides=sides_of_wings, end=st.sampled_from(ENDS))
@settings(max_examples=40)
def test_streams_name_what_they_should(sides: list[list[int]], end: End) -> None:
    hall = hall_of(sides, end)
    layout = as_layout(hall)
    names = [stream.name for stream in layout.streams]
    assert len(set(names)) == len(names) == 2 * sum(map(len, sides))
    served = [cell for stream in layout.streams if stream.item == "clay" for cell in stream.outputs]
    assert sorted(served) == sorted(part.at for part in layout.parts if isinstance(part, Furnace))
    for stream in layout.streams:
        assert part_of(Bin, layout, stream.source)
        first = layout.by_cell[step(stream.source, "D")]
        assert isinstance(first, Node)
        for cell in stream.outputs:
            assert part_of(Furnace, layout, cell)
        assert ("-south" in stream.name or "-north" in stream.name) == (len(sides) == 2)
    sources = [stream.source for stream in layout.streams]
    bins = {part.at for part in layout.parts if isinstance(part, Bin)}
    assert len(set(sources)) == len(sources)
    assert bins == {*sources, *hall.product_bins}


@pytest.mark.parametrize("end", ENDS)
@pytest.mark.parametrize("n", [2, 3, 8, 15])
def test_the_second_side_is_the_mirror_image_of_the_first(n: int, end: End) -> None:
    hall = hall_of([[n], [n]], end)
    parts = {part.at: part for part in hall.parts()}

    def across(part: Part) -> Part:
        x, y, z = part.at
        return turned_part(part, MIRRORED, lambda _: (x, hall.depth - 1 - y, z))

    assert {across(part) for part in parts.values()} == set(parts.values())
    south = [part for part in parts.values() if part.at[1] < hall.depth // 2]
    assert len(parts) == 2 * len(south) + len(hall.product_bins)


@given(n=st.integers(2, 30), sides=st.integers(1, 2), end=st.sampled_from(ENDS))
@settings(max_examples=30)
def test_each_furnace_more_takes_the_same_parts(n: int, sides: int, end: End) -> None:
    """A furnace, two T, two B, a product node, and a stretch of each row."""
    one, two = (len(hall_of([[m]] * sides, end).parts()) for m in (n, n + 1))
    stretches = len(solved("top", end).stretch) + len(solved("side", end).stretch)
    assert two - one == sides * (6 + stretches)


@given(n=st.integers(2, 6), wings=st.integers(1, 6), columns=st.integers(0, 3))
@settings(max_examples=30)
def test_each_wing_more_takes_the_same_parts_and_columns(n: int, wings: int, columns: int) -> None:
    halls = [hall_of([[n] * count] * 2, columns=columns) for count in (wings, wings + 1)]
    alone = hall_of([[n], [n]])
    assert len(halls[1].parts()) - len(halls[0].parts()) == len(alone.parts())
    assert halls[1].width - halls[0].width == alone.width + columns
    assert halls[0].width == wings * alone.width + (wings - 1) * columns


@pytest.mark.parametrize("sides", [[[5], [4]], [[3], [2]], [[2], [9]], [[4, 3], [3, 3]], [[3, 2], [4]]], ids=str)
@pytest.mark.parametrize("end", ENDS)
def test_uneven_sides_meet_at_the_product_bin(sides: list[list[int]], end: End) -> None:
    hall = hall_of(sides, end, 2)
    layout = as_layout(hall)
    assert len(hall.product_bins) == max(map(len, sides))
    assert design_findings(layout, RULES) == []


# -- signals stay where they belong ------------------------------------------------------------------------------------


@pytest.mark.parametrize("end", ENDS)
@pytest.mark.parametrize("sides", [[[2]], [[15]], [[2], [2]], [[6], [6]], [[15], [15]], [[4, 4], [4, 4]]], ids=str)
def test_no_signal_gets_into_another_row(sides: list[list[int]], end: End) -> None:
    hall = hall_of(sides, end, 1)
    assert couplings(as_layout(hall), RULES) == []
    assert design_findings(as_layout(hall), RULES) == []


def shifted_places(hall: Joined, number: int, by: Cell) -> Joined:
    places = list(hall.places)
    x, y, z = places[number].offset
    places[number] = replace(places[number], offset=(x + by[0], y + by[1], z + by[2]))
    return replace(hall, places=tuple(places))


def test_a_wing_that_is_shifted_until_it_touches_couples() -> None:
    """The gap is one column. Without it the tail's inverter and support come beside the next head's run."""
    hall = hall_of([[4, 4]], columns=1)
    assert couplings(as_layout(hall), RULES) == []
    closer = shifted_places(hall, 1, (-1, 0, 0))
    parts = closer.parts()
    assert len({part.at for part in parts}) == len(parts), "they touch, and do not overlap"
    found = couplings(as_layout(closer), RULES)
    assert found
    assert {row for one in found for row in one.streams} <= {"feed-1", "feed-2", "fuel-1", "fuel-2"}
    assert any(len(one.streams) == 2 for one in found)
    assert all(one.path and one.text for one in found)


def test_wings_side_by_side_couple_and_are_moved_apart() -> None:
    """Eight furnaces in a row of two wings: put_together finds the gap."""
    spec, pieces = small_hall(8, 1), kit()
    sides = wings_of(spec, 8, 2, pieces)
    tight = layout_of(spec, joined(sides, Gaps(0)))
    assert design_findings(tight, RULES) != []
    layout, fault = put_together(spec, sides)
    assert fault == ""
    assert layout is not None
    assert layout.size[0] == tight.size[0] + 1
    assert couplings(layout, RULES) == []
    assert len(layout.parts) == len(tight.parts)


def test_where_no_gap_helps_the_finding_is_told() -> None:
    """A stray line from the feed row's wiring to the fuel row: no free column between wings mends that."""
    pieces = kit()
    stray: tuple[Part, ...] = (Support((2, 2, 1)), Line((2, 2, 2)), *(Support((2, y, 2)) for y in (1, 0, -1)),
                               *(Line((2, y, 3)) for y in (1, 0, -1)))  # fmt: skip
    spoiled = Kit(pieces.feed, replace(pieces.fuel, after=3, tail=(*pieces.fuel.tail, *stray)), "tail")
    spec = small_hall(8, 1)
    layout, fault = put_together(spec, wings_of(spec, 8, 2, spoiled))
    assert layout is None
    assert fault


# -- on the site ------------------------------------------------------------------------------------------------------


def built(spec: HallSpec, furnaces: int, rows: int = 1) -> tuple[Layout | None, str | Misfit | OtherBins]:
    return put_together(spec, wings_of(spec, furnaces, rows, kit()))


def test_sharing_out() -> None:
    assert [shared_out(7, 3), shared_out(6, 2), shared_out(2, 3), shared_out(0, 2)] == [
        [3, 2, 2], [3, 3], [1, 1, 0], [0, 0],
    ]  # fmt: skip


@given(furnaces=st.integers(2, 70), rows=st.integers(1, 6), sides=st.integers(1, 2))
@settings(max_examples=60)
def test_wings_share_the_furnaces_out(furnaces: int, rows: int, sides: int) -> None:
    found = wings_of(small_hall(furnaces, sides), furnaces, rows, kit())
    numbers = [[one.n for one in side] for side in found]
    assert len(numbers) == sides
    assert sum(map(sum, numbers)) == furnaces
    assert max(map(sum, numbers)) - min(map(sum, numbers)) <= 1
    for side in numbers:
        assert len(side) == min(rows, sum(side))
        assert max(side) - min(side) <= 1


def test_the_spec_limits_parts_and_says_how_many_bins() -> None:
    spec = small_hall(8)
    free, _ = built(spec, 8, 2)
    assert free is not None
    lines = sum(part.kind == "line" for part in free.parts)
    assert built(small_hall(8, more=f"[parts]\nline = {{most = {lines}}}\n"), 8, 2)[0] == free
    layout, fault = built(small_hall(8, more=f"[parts]\nline = {{most = {lines - 1}}}\n"), 8, 2)
    assert layout is None
    assert str(lines) in fault
    assert str(lines - 1) in fault
    for bins, there in ((1, 1), (2, 2), (None, 2)):
        layout, fault = built(replace(spec, product_bins=bins), 8, 2)
        assert fault == ""
        assert layout is not None
        assert sum(part.kind == "bin" and part.at[2] == 0 for part in layout.parts) == there
    layout, fault = built(replace(spec, product_bins=3), 8, 2)
    assert layout is None
    assert "product bins" in str(fault)


def test_the_site_limits_the_hall() -> None:
    spec = small_hall(6)
    free, _ = built(spec, 6)
    assert free is not None
    w, d, h = free.size
    exact, fault = built(replace(spec, size=(w, d, h)), 6)
    assert fault == ""
    assert exact == free
    for size in ((w - 1, d, h), (w, d - 1, h), (w, d, h - 1)):
        layout, fault = built(replace(spec, size=size), 6)
        assert layout is None
        assert f"{w} x {d} x {h}" in str(fault)


def test_a_hall_is_turned_where_the_site_asks_for_it() -> None:
    spec = small_hall(6)
    free, _ = built(spec, 6)
    assert free is not None
    w, d, h = free.size
    assert w != d
    layout, fault = built(replace(spec, size=(d, w, h)), 6)
    assert fault == ""
    assert layout is not None
    assert layout.size == (d, w, h)
    assert Counter(part.kind for part in layout.parts) == Counter(part.kind for part in free.parts)
    assert design_findings(layout, RULES) == []
    assert couplings(layout, RULES) == []


def test_a_hall_goes_round_blocked_cells() -> None:
    spec = small_hall(6)
    free, _ = built(spec, 6)
    assert free is not None
    w, d, h = free.size
    blocked = frozenset({(0, 0, 1), (1, 1, 2)})
    size = (w + 2, d + 2, h + 1)
    layout, fault = built(replace(spec, size=size, blocked=blocked), 6)
    assert fault == ""
    assert layout is not None
    assert layout.size == size
    assert not blocked & layout.by_cell.keys()
    assert design_findings(layout, RULES) == []
    everywhere = frozenset((x, y, 1) for x in range(size[0]) for y in range(size[1]))
    layout, fault = built(replace(spec, size=size, blocked=everywhere), 6)
    assert layout is None
    assert "blocked cells are in the way" in str(fault)


@pytest.mark.parametrize("number", range(8))
def test_a_site_that_leaves_one_image_of_the_hall_is_room_enough(number: int) -> None:
    """One side alone has no symmetry: the site's free cells are just those of one of its eight images."""
    spec = small_hall(3, 1)
    free, _ = built(spec, 3)
    assert free is not None
    image = turned(free, TURNS[number])
    w, d, h = image.size
    cells = {(x, y, z) for x in range(w) for y in range(d) for z in range(h)}
    site = replace(spec, size=(w, d, h), blocked=frozenset(cells - image.by_cell.keys()))
    layout, fault = built(site, 3)
    assert fault == ""
    assert layout is not None
    assert layout.by_cell.keys() == image.by_cell.keys()
    assert design_findings(layout, RULES) == []


# -- in reach by hand -------------------------------------------------------------------------------------------------

ALL_BINS = frozenset({"feed", "fuel", "product"})


def walled(layout: Layout, cell: Cell) -> Layout:
    """Supports in all free cells around one."""
    around = [step(cell, direction) for direction in ("E", "W", "N", "S", "U", "D")]
    parts = tuple(Support(at) for at in around if at not in layout.by_cell)
    size = (max(at[0] for at in around) + 1, max(at[1] for at in around) + 1, max(at[2] for at in around) + 1)
    most = tuple(max(a, b) for a, b in zip(size, layout.size, strict=True))
    return replace(layout, size=(most[0], most[1], most[2]), parts=(*layout.parts, *parts))


def test_a_bin_that_is_walled_in_is_out_of_reach() -> None:
    spec = replace(small_hall(6), reachable=ALL_BINS)
    layout, _ = built(spec, 6)
    assert layout is not None
    assert list(out_of_reach(spec, layout)) == []
    sources = {stream.source: stream.name.split("-")[0] for stream in layout.streams}
    bins = [part.at for part in layout.parts if isinstance(part, Bin)]
    assert len(bins) == 5
    for cell in bins:
        name = sources.get(cell, "product")
        (told,) = [one for one in out_of_reach(spec, walled(layout, cell)) if ",".join(map(str, cell)) in one]
        assert name in told
        asked = replace(spec, reachable=ALL_BINS - {name})
        assert list(out_of_reach(asked, walled(layout, cell))) == [], "only what is asked for is told"


def test_a_hole_that_leads_nowhere_is_no_way_in() -> None:
    """A free cell beside the bin, closed on all other sides."""
    spec = replace(small_hall(6), reachable=frozenset({"product"}))
    layout, _ = built(spec, 6)
    assert layout is not None
    cell = next(part.at for part in layout.parts if isinstance(part, Bin) and part.at[2] == 0)
    hole = step(cell, "U")
    assert hole not in layout.by_cell
    closed = walled(layout, cell)
    opened = replace(closed, parts=tuple(part for part in closed.parts if part.at != hole))
    assert list(out_of_reach(spec, opened)) == []
    assert len(list(out_of_reach(spec, walled(opened, hole)))) == 1


def test_blocked_cells_are_no_way_in() -> None:
    spec = replace(small_hall(6), reachable=frozenset({"product"}))
    layout, _ = built(spec, 6)
    assert layout is not None
    w, d, h = layout.size
    cells = {(x, y, z) for x in range(w) for y in range(d) for z in range(h)}
    site = replace(spec, size=(w, d, h), blocked=frozenset(cells - layout.by_cell.keys()))
    assert len(list(out_of_reach(site, layout))) == 1


# -- single wings -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("end", ENDS)
@pytest.mark.parametrize("n", [2, 5, 9])
def test_a_wing_lies_in_its_columns_and_lanes(n: int, end: End) -> None:
    one = wing(n, end)
    cells = [part.at for part in one.parts()]
    assert {x for x, _, _ in cells} == set(one.columns)
    assert {y for _, y, _ in cells} == set(one.depth)
    assert {z for _, _, z in cells} == set(range(HEIGHT))
    exit_x = one.product[-1][0]
    assert exit_x == (n if end == "tail" else -1)


def test_a_place_turns_and_then_moves() -> None:
    place = Place(Wing(2, solved("top"), solved("side"), "tail"), MIRRORED, (10, 20, 0), "")
    assert place.cell((1, 2, 3)) == (11, 18, 3)
    assert turned_cell((1, 2, 3), MIRRORED) == (1, -2, 3)
