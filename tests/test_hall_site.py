"""A hall and the limits of its site: which of them clash, and how little larger a site would have to be.

Sizes by hand: a hall of six kilns on two sides is 3 kilns and 2 columns of tail wide, twice 4 lanes (fuel row,
furnaces, one of wiring on either side) and one for the product bin deep, 5 layers high: 5 x 9 x 5. Its product bin
stands at 3,4,0, alone in its row of the ground but for the two nodes beside it at 3,3,0 and 3,5,0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hall_kits import kit, small_hall
from sim.world.geometry import Cell, step
from sim.world.layout import Layout
from sim.world.parts import Bin
from synth.ask.hall_spec import HallSpec
from synth.hall.putting_together import Misfit, OtherBins, out_of_reach, put_together, wings_of
from synth.model.images import images

BOTH_BINS = frozenset({(3, 4, 0), (1, 4, 0)})
"""Where the product bin of six kilns stands, and where it stands in the hall turned by half."""


def put_on(size: Cell, blocked: frozenset[Cell] = frozenset(), furnaces: int = 6, sides: int = 2) -> Layout | Misfit:
    """The hall on such a site; or why not."""
    spec = replace(small_hall(furnaces, sides), size=size, blocked=blocked)
    layout, fault = built(spec, furnaces)
    if layout is not None:
        assert fault == ""
        return layout
    assert isinstance(fault, Misfit)
    return fault


def built(spec: HallSpec, furnaces: int) -> tuple[Layout | None, str | Misfit | OtherBins]:
    return put_together(spec, wings_of(spec, furnaces, 1, kit()))


def test_the_sizes_by_hand() -> None:
    layout, _ = built(small_hall(6), 6)
    assert layout is not None
    assert layout.size == (5, 9, 5)
    assert [part.at for part in layout.parts if isinstance(part, Bin) and part.at[2] == 0] == [(3, 4, 0)]


@pytest.mark.parametrize(
    ("site", "told", "growth"),
    [
        ((4, 9, 5), ": the width of 4 is 1 too small", (1, 0, 0)),
        ((5, 6, 5), ": the depth of 6 is 3 too small", (0, 3, 0)),
        ((5, 9, 3), ": the height of 3 is 2 too small", (0, 0, 2)),
        ((4, 9, 4), ": the width of 4 is 1 too small and the height of 4 is 1 too small", (1, 0, 1)),
        (
            (4, 7, 4),
            ": the width of 4 is 1 too small, the depth of 7 is 2 too small and the height of 4 is 1 too small",
            (1, 2, 1),
        ),
        ((9, 4, 5), " (turned: 9 x 5 x 5): the depth of 4 is 1 too small", (0, 1, 0)),
        ((7, 7, 5), ": the depth of 7 is 2 too small", (0, 2, 0)),
        ((8, 4, 9), " (turned: 9 x 5 x 5): the width of 8 is 1 too small and the depth of 4 is 1 too small", (1, 1, 0)),
    ],
)
def test_the_limits_that_clash_are_told(site: Cell, told: str, growth: Cell) -> None:
    found = put_on(site)
    assert isinstance(found, Misfit)
    assert found.text == str(found) == f"takes 5 x 9 x 5 cells{told}"
    assert found.growth == growth
    grown = (site[0] + growth[0], site[1] + growth[1], site[2] + growth[2])
    assert found.layout.size == grown
    assert isinstance(put_on(grown), Layout)


def test_blocked_cells_in_the_way_are_told() -> None:
    """On 5 x 9 the hall can stand in two ways, as it is and turned by half: each has a bin where a cell is blocked."""
    found = put_on((5, 9, 5), BOTH_BINS)
    assert isinstance(found, Misfit)
    assert found.text == (
        "takes 5 x 9 x 5 cells: blocked cells are in the way in each of the 2 places it could take, turned and "
        "mirrored ones too; in the best, 1 cell: 3,4,0"
    )
    assert found.growth == (1, 0, 0), "one to the east, the bin stands at 4,4,0"
    assert not BOTH_BINS & found.layout.by_cell.keys()
    for cell in BOTH_BINS:
        assert isinstance(put_on((5, 9, 5), BOTH_BINS - {cell}), Layout), "the other way is free then"


def test_the_only_place_and_no_more_cells_than_are_worth_reading() -> None:
    """Three kilns on one side have eight images; all of the site blocked, each has all of its cells in the way."""
    layout, _ = built(small_hall(3, 1), 3)
    assert layout is not None
    w, d, h = layout.size
    everywhere = frozenset((x, y, z) for x in range(w) for y in range(d) for z in range(h))
    found = put_on((w, d, h), everywhere, 3, 1)
    assert isinstance(found, Misfit)
    count = len(layout.parts)
    assert f"{count} cells: " in found.text
    assert found.text.endswith("; ...")
    assert found.text.count(";") == 1 + 3
    assert found.growth in {(w, 0, 0), (0, min(w, d), 0), (min(w, d), 0, 0)}


def test_blocked_cells_above_the_hall_are_in_nobodys_way() -> None:
    assert isinstance(put_on((5, 9, 7), frozenset((x, y, 5) for x in range(5) for y in range(9))), Layout)


def test_bins_are_looked_for_near_the_hall_however_large_the_site() -> None:
    """Forty-five million cells, nearly all free: the few around the hall say whether its bins are in reach."""
    spec = replace(small_hall(6), size=(3000, 3000, 5), blocked=frozenset({(0, 0, 0)}))
    spec = replace(spec, reachable=frozenset({"feed", "fuel", "product"}))
    layout, _ = built(spec, 6)
    assert layout is not None
    assert layout.size == spec.size
    assert list(out_of_reach(spec, layout)) == []
    (bin_at,) = (part.at for part in layout.parts if isinstance(part, Bin) and part.at[2] == 0)
    shut = frozenset(step(bin_at, way) for way in ("U", "E", "W", "N", "S")) - layout.by_cell.keys()
    assert len(list(out_of_reach(replace(spec, blocked=shut), layout))) == 1


def cells_of(size: Cell) -> st.SearchStrategy[frozenset[Cell]]:
    return st.frozensets(st.tuples(*(st.integers(0, most - 1) for most in size)), max_size=12)


@given(data=st.data(), width=st.integers(3, 7), depth=st.integers(3, 7), height=st.integers(4, 6))
@settings(max_examples=60)
def test_the_least_growth_as_trying_every_place_finds_it(
    data: st.DataObject, width: int, depth: int, height: int
) -> None:
    """Against a search of another make: all sites in turn, all images, all places, cell by cell."""
    site = (width, depth, height)
    blocked = data.draw(cells_of(site))
    free, _ = built(small_hall(3, 1), 3)
    assert free is not None
    found = put_on(site, blocked, 3, 1)
    least = least_by_trying(list(images(free)), site, blocked)
    if isinstance(found, Layout):
        assert least == 0
        layout = found
        assert layout.size == site
    else:
        assert sum(found.growth) == least > 0
        layout = found.layout
        assert layout.size == tuple(a + b for a, b in zip(site, found.growth, strict=True))
    assert not blocked & layout.by_cell.keys()
    assert all(0 <= cell[axis] < layout.size[axis] for cell in layout.by_cell for axis in range(3))
    assert len(layout.parts) == len(free.parts)


def least_by_trying(halls: Sequence[Layout], site: Cell, blocked: frozenset[Cell]) -> int:
    """Cells more of width, depth and height together."""
    sums = []
    for hall in halls:
        for dx in range(site[0] + 1):
            for dy in range(site[1] + 1):
                if not any((x + dx, y + dy, z) in blocked for x, y, z in hall.by_cell):
                    far = (dx + hall.size[0], dy + hall.size[1], hall.size[2])
                    sums.append(sum(max(0, end - most) for end, most in zip(far, site, strict=True)))
    return min(sums)
