"""Known builds on a site: every way to put one there is found, and nothing else; against symmetry groups from outside.

Groups: the signed permutation matrices are the symmetries of the cube (H. S. M. Coxeter, "Regular Polytopes", 3.6 and
7.6, from memory: 48, of which 24 are rotations); SymPy has the rotations of its cube and the dihedral group of the
square. What stands where is held against all images at all places, by matrices alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise, permutations, product
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from sympy.combinatorics import Permutation, PermutationGroup
from sympy.combinatorics.named_groups import DihedralGroup
from sympy.combinatorics.polyhedron import cube

from commands import LAYOUTS
from known_builds import LAWS, SCHEME, made_up, smallest
from sim.analysis.checks import design_findings
from sim.world.files.reading import load_layout
from sim.world.geometry import HORIZONTAL, VECTORS, Cell
from sim.world.layout import ItemKind, Layout, Stream
from sim.world.parts import Bin, Furnace, Gauge, Line, Node, Part, Support
from sim.world.rulebook import load_rulebook
from synth.ask.spec import PartLimit, Spec, StreamSpec
from synth.confirm.judge import Judge
from synth.model.images import TURNS, canonical_key, turned_cell
from synth.schemes.registry import scheme_named
from synth.search.known.atlas import atlas
from synth.search.known.build import KnownBuild, KnownClaim, KnownFailure, at_origin
from synth.search.known.matching import fits, is_straight, placements, row_of
from synth.search.known.source import KnownBuilds

Matrix = tuple[tuple[int, ...], ...]
Cells = frozenset[tuple[Any, ...]]
CORNERS = list(product((-1, 1), repeat=3))


def spec(size: tuple[int, int, int], outputs: int = 1, **changes: Any) -> Spec:
    stream = StreamSpec("feed", "clay", "top", changes.pop("source", None), changes.pop("outputs_at", ()))
    return Spec("A title", outputs, size, (stream,), load_rulebook(), **{"scheme": SCHEME, **changes})


# -- the group --------------------------------------------------------------------------------------------------------


def signed_permutations() -> list[Matrix]:
    """All matrices with one entry of 1 or -1 in each row and column."""
    return [
        tuple(tuple(sign * (column == at) for column in range(3)) for sign, at in zip(signs, order, strict=True))
        for order in permutations(range(3))
        for signs in product((1, -1), repeat=3)
    ]


def upright() -> list[Matrix]:
    """Those that leave "up" as it is."""
    return [matrix for matrix in signed_permutations() if applied(matrix, (0, 0, 1)) == (0, 0, 1)]


def applied(matrix: Matrix, cell: Sequence[int]) -> tuple[int, int, int]:
    x, y, z = (int(n) for n in np.array(matrix) @ np.array(cell))
    return x, y, z


def as_matrix(turn: Any) -> Matrix:
    columns = [turned_cell(unit, turn) for unit in ((1, 0, 0), (0, 1, 0), (0, 0, 1))]
    return tuple(zip(*columns, strict=True))


def on_corners(matrix: Matrix, corners: Sequence[tuple[int, ...]]) -> Permutation:
    return Permutation([corners.index(applied(matrix, corner)) for corner in corners])


def test_there_are_as_many_symmetries_as_sympy_knows() -> None:
    """48 of the cube, 24 of them rotations; half of those 24 that turn the cube's top to the top again leave 4."""
    every = signed_permutations()
    rotations = [matrix for matrix in every if round(np.linalg.det(np.array(matrix))) == 1]
    assert len(every) == PermutationGroup([on_corners(one, CORNERS) for one in every]).order() == 48
    of_sympy = cube.pgroup
    assert len(rotations) == PermutationGroup([on_corners(one, CORNERS) for one in rotations]).order() == 24
    assert of_sympy.order() == 24
    face = set(next(iter(cube.faces)).args)
    keeping = [one for one in of_sympy.elements if {one(corner) for corner in face} == face]
    assert len(keeping) == len([one for one in rotations if one in upright()]) == 4
    assert len(upright()) == 8


def test_the_turnings_are_the_eight_that_leave_up_as_it_is() -> None:
    """As matrices; and as what they do to the corners of a square, SymPy's dihedral group of order 8."""
    assert len(TURNS) == 8
    assert {as_matrix(turn) for turn in TURNS} == set(upright())
    square = [(1, 1, 0), (-1, 1, 0), (-1, -1, 0), (1, -1, 0)]
    assert {on_corners(as_matrix(turn), square) for turn in TURNS} == set(DihedralGroup(4).elements)


# -- every way to put a build on a site -------------------------------------------------------------------------------


def seen(layout: Layout) -> Cells:
    """What stands where, which way it looks, where the source and the outputs are: by position in the site."""
    (stream,) = layout.streams
    marks = [("source", stream.source, None), *(("output", cell, None) for cell in stream.outputs)]
    return frozenset([*((part.kind, part.at, looks(part)) for part in layout.parts), *marks])


def looks(part: Part) -> Cell | None:
    match part:
        case Node():
            return VECTORS[part.outlet]
        case Gauge():
            return VECTORS[part.output]
    return None


def at_ground(found: Cells) -> Cells:
    """Moved so that its cells begin at x = 0, y = 0."""
    x, y = (min(at[axis] for _, at, _ in found) for axis in (0, 1))
    return moved_by(found, (-x, -y))


def moved_by(found: Cells, by: tuple[int, int]) -> Cells:
    return frozenset((kind, (at[0] + by[0], at[1] + by[1], at[2]), way) for kind, at, way in found)


def lifted(found: Cells, up: int) -> Cells:
    """So many layers up, on supports where it needs ground (no inverter is made up here)."""
    above = {(kind, (x, y, z + up), way) for kind, (x, y, z), way in found}
    needy = {(x, y) for kind, (x, y, z), _ in found if z == 0 and kind in ("line", "gauge", "relay")}
    return frozenset(above | {("support", (x, y, up - 1), None) for x, y in needy if up})


def every_image(layout: Layout) -> set[Cells]:
    return {
        at_ground(frozenset((kind, applied(m, at), way and applied(m, way)) for kind, at, way in seen(layout)))
        for m in upright()
    }


def ways(layout: Layout, asked: Spec) -> dict[Cells, set[Cells]]:
    """For each image of the layout, all places in the site that will do, by trying each of them, on the ground and,
    where something is pinned or blocked, above it."""
    width, depth, height = asked.size
    (stream,) = asked.streams
    found: dict[Cells, set[Cells]] = {}
    for image in every_image(layout):
        bound = asked.blocked or stream.source or stream.outputs_at
        for *by, up in product(range(width), range(depth), range(height if bound else 1)):
            there = moved_by(lifted(image, up), tuple(by))
            taken = {at for kind, at, _ in there}
            source = next(at for kind, at, _ in there if kind == "source")
            outputs = {at for kind, at, _ in there if kind == "output"}
            sides = {"W": source[0] == 0, "E": source[0] == width - 1, "S": source[1] == 0, "N": source[1] == depth - 1,
                     "D": source[2] == 0, "U": source[2] == height - 1, None: True}  # fmt: skip
            if (
                all(0 <= c < s for at in taken for c, s in zip(at, asked.size, strict=True))
                and not taken & asked.blocked
                and (source == stream.source if isinstance(stream.source, tuple) else sides[stream.source])
                and (not stream.outputs_at or outputs == set(stream.outputs_at))
            ):
                found.setdefault(image, set()).add(there)
    return found


def test_a_build_without_symmetry_has_eight_images() -> None:
    build = smallest(3)
    found = list(placements(build, spec((20, 20, 20), 3)))
    assert len(found) == 8
    assert {at_ground(seen(one)) for one in found} == every_image(build.layout)
    assert {canonical_key(one) for one in found} == {canonical_key(build.layout)}


@pytest.mark.parametrize("supports", [0, 1])
def test_a_build_that_is_its_own_mirror_image_has_four(supports: int) -> None:
    """As many as the group has for each symmetry of the build (the orbit-stabilizer theorem)."""
    build = made_up(width=4, supports=supports)
    cells = seen(build.layout)
    own = [m for m in upright() if frozenset((k, applied(m, at), w and applied(m, w)) for k, at, w in cells) == cells]
    found = list(placements(build, spec((9, 9, 9))))
    assert len(found) == len(upright()) // len(own) == 4


@st.composite
def small_builds(draw: st.DrawFn) -> KnownBuild:
    """A few parts anywhere: nothing that works."""
    cells = draw(st.lists(st.tuples(*(st.integers(0, n) for n in (2, 2, 1))), min_size=2, max_size=5, unique=True))
    source, output, *others = cells
    parts: list[Part] = [Bin(source), Furnace(output)]
    for at in others:
        way = draw(st.sampled_from(HORIZONTAL))
        parts.append(draw(st.sampled_from([Support(at), Line(at), Node(at, way), Gauge(at, way)])))
    layout = Layout("", (3, 3, 2), {"clay": ItemKind()}, tuple(parts), (Stream("feed", "clay", source, (output,)),))
    return KnownBuild(at_origin(layout), SCHEME, "top", 1, (8,), "", LAWS)


@st.composite
def sites(draw: st.DrawFn) -> Spec:
    """Open, or with blocked cells and pins."""
    size = draw(st.tuples(st.integers(1, 4), st.integers(1, 4), st.integers(1, 3)))
    cell = st.tuples(*(st.integers(0, s - 1) for s in size))
    blocked = draw(st.frozensets(cell, max_size=5))
    source = draw(st.sampled_from([None, None, "W", "E", "N", "S", "U", "D"]) | cell)
    outputs_at = draw(st.just(()) | st.tuples(cell))
    return spec(size, blocked=blocked, source=source, outputs_at=outputs_at)


@settings(max_examples=300)
@given(small_builds(), sites())
def test_what_has_room_is_put_there_and_nothing_else(build: KnownBuild, asked: Spec) -> None:
    possible = ways(build.layout, asked)
    found = list(placements(build, asked))
    assert len(found) == len(possible), "each image once"
    for places in possible.values():
        assert any(seen(one) in places for one in found)
    for one in found:
        assert any(seen(one) in places for places in possible.values())
        if asked.blocked or asked.streams[0].source or asked.streams[0].outputs_at:
            assert one.size == asked.size
        else:
            assert one.size == tuple(1 + max(part.at[axis] for part in one.parts) for axis in range(3))


@given(small_builds(), sites())
def test_a_site_that_is_too_small_for_the_box_has_no_room(build: KnownBuild, asked: Spec) -> None:
    if not fits(build.layout.size, asked.size):
        assert ways(build.layout, asked) == {}


# -- what else is asked -----------------------------------------------------------------------------------------------


def test_parts_are_counted() -> None:
    build = smallest(3)
    for kind in {part.kind for part in build.layout.parts}:
        count = sum(part.kind == kind for part in build.layout.parts)
        for most, is_there in ((count, True), (count - 1, False), (None, True)):
            asked = spec((9, 9, 9), 3, limits={kind: PartLimit(most)})
            assert bool(list(placements(build, asked))) is is_there, (kind, most)


def test_a_straight_row_is_one() -> None:
    """The smallest row of two turns a corner after its first node; the one made by hand does not."""
    for build, bends in ((smallest(2), True), (by_hand("burst-row-of-two", 2), False)):
        (x, y, z), *_ = row = row_of(build.layout)
        assert build.layout.streams[0].source == (x, y, z + 1)
        assert len(row) == 3
        assert all(isinstance(build.layout.by_cell[cell], Node) for cell in row)
        assert all(sum(abs(a - b) for a, b in zip(one, two, strict=True)) == 1 for one, two in pairwise(row))
        assert is_straight(build.layout) is not bends
        assert bool(list(placements(build, spec((9, 9, 9), 2, row="straight")))) is not bends
        assert len(list(placements(build, spec((9, 9, 9), 2)))) == 8


def test_only_builds_of_the_row_that_is_asked_for() -> None:
    build = smallest(3)
    assert list(placements(build, spec((9, 9, 9), 4))) == []
    side = spec((9, 9, 9), 3)
    assert list(placements(build, replace(side, streams=(replace(side.streams[0], enters="side"),)))) == []
    assert list(placements(build, replace(side, streams=side.streams * 2))) == []


def test_what_comes_of_it_is_in_the_words_of_the_spec() -> None:
    """Title, name and item of the stream, items, rules; and outputs in the order in which they are pinned."""
    build, ware = smallest(2), {"sand": ItemKind(stack=16)}
    asked = spec((9, 9, 9), 2, items=ware, overrides={"reach": 14})
    asked = replace(asked, streams=(replace(asked.streams[0], name="river", item="sand"),))
    for one in placements(build, asked):
        (stream,) = one.streams
        assert (one.title, stream.name, stream.item) == ("A title", "river", "sand")
        assert (one.items, one.rules) == (ware, {"reach": 14})
    (first, second) = next(placements(build, spec((4, 2, 4), 2))).streams[0].outputs
    for pinned in ((first, second), (second, first)):
        found = list(placements(build, spec((4, 2, 4), 2, outputs_at=pinned)))
        assert found
        assert all(one.streams[0].outputs == pinned for one in found)


@pytest.mark.parametrize("stack", [16, 64])
def test_nodes_that_start_full_hold_what_the_spec_makes_of_them(stack: int) -> None:
    """How much is a full slot depends on the item."""
    at = ((0, 0, 1), (0, 0, 0), (1, 0, 0))
    parts = (Bin(at[0]), Node(at[1], "E", holds=(("charcoal", 1),)), Furnace(at[2]))
    layout = Layout("", (2, 1, 2), {"charcoal": ItemKind()}, parts, (Stream("feed", "charcoal", at[0], (at[2],)),))
    build = KnownBuild(layout, "brimmed row", "top", 1, (8,), "", LAWS)
    asked = spec((2, 2, 2), scheme="brimmed row", items={"clay": ItemKind(stack=stack)})
    start = scheme_named("brimmed row").start("clay", stack, asked.rules)
    assert start
    for one in placements(build, asked):
        assert [part.holds for part in one.parts if isinstance(part, Node)] == [start]


def test_wherever_a_build_that_works_is_put_it_works() -> None:
    asked = spec((5, 4, 5), 2, blocked=frozenset({(0, 0, 0), (4, 1, 2)}), items={"clay": ItemKind(fires_to="brick")})
    judge, found = Judge(asked, (8, 7)), list(placements(smallest(2), asked))
    assert found
    assert all(judge.takes(one) for one in found)


# -- larger sites -----------------------------------------------------------------------------------------------------


@dataclass
class Shelf:
    """Some builds, as a store."""

    kept: Sequence[KnownBuild]
    faults: list[str] = field(default_factory=list)

    def builds(self, scheme: str, face: str, outputs: int) -> Sequence[KnownBuild]:
        return [one for one in self.stretchable(scheme, face) if one.outputs == outputs]

    def stretchable(self, scheme: str, face: str) -> Sequence[KnownBuild]:
        return [one for one in self.kept if (one.scheme, one.face) == (scheme, face)]

    def claims(self, *_: object) -> Sequence[KnownClaim]:
        return []

    def failures(self, *_: object) -> Sequence[KnownFailure]:
        return []


def candidates(asked: Spec, kept: Sequence[KnownBuild]) -> Iterator[object]:
    return (canonical_key(one) for one in KnownBuilds([Shelf(kept)]).candidates(asked))


def by_hand(name: str, outputs: int) -> KnownBuild:
    return KnownBuild(at_origin(load_layout(LAYOUTS / f"{name}.plan")), SCHEME, "top", outputs, (8, 7), "", LAWS)


REAL = [*map(smallest, (2, 3, 4, 5)), by_hand("burst-row-of-three", 3), by_hand("burst-row-of-five", 5)]
sizes = st.tuples(st.integers(3, 11), st.integers(1, 6), st.integers(3, 6))


def test_rows_are_made_longer_and_shorter_where_there_is_room() -> None:
    """The row of three made by hand takes 6 x 4 x 4, and a column more for each output."""
    for outputs, width in ((2, 5), (4, 7), (6, 9)):
        asked = spec((width, 4, 4), outputs)
        longer = set(candidates(asked, [by_hand("burst-row-of-three", 3)]))
        assert longer
        assert longer <= set(candidates(asked, REAL))
        assert not set(candidates(replace(asked, size=(width - 1, 4, 4)), [by_hand("burst-row-of-three", 3)]))


@example(size=(7, 4, 4), more=(1, 0, 0), outputs=4, turned=False)
@given(
    size=sizes, more=st.tuples(*[st.integers(0, 3)] * 3), outputs=st.integers(2, 6), turned=st.booleans()
)
def test_a_larger_site_has_every_candidate_of_a_smaller_one_inside_it(
    size: tuple[int, int, int], more: tuple[int, int, int], outputs: int, turned: bool
) -> None:
    """Whatever the site is like, and whichever way the smaller one lies in it: rows made longer and shorter too."""
    width, depth, height = (s + m for s, m in zip(size, more, strict=True))
    larger = (depth, width, height) if turned else (width, depth, height)
    small = set(candidates(spec(size, outputs), REAL))
    assert small <= set(candidates(spec(larger, outputs), REAL))


@given(st.lists(small_builds(), max_size=6), sites(), st.integers(0, 2), st.integers(0, 2))
def test_room_beside_a_site_takes_no_candidate_away(kept: list[KnownBuild], asked: Spec, east: int, north: int) -> None:
    """With blocked cells and pins as they are; but for a source on a side that moves with the site."""
    if asked.streams[0].source in ("E", "N", "U"):
        asked = replace(asked, streams=(replace(asked.streams[0], source=None),))
    (width, depth, height) = asked.size
    larger = replace(asked, size=(width + east, depth + north, height + 1))
    assert set(candidates(asked, kept)) <= set(candidates(larger, kept))


def test_the_smallest_one_comes_first() -> None:
    kept = [made_up(width=w, height=h, supports=s) for w, h, s in ((5, 2, 1), (3, 2, 0), (3, 3, 1), (5, 2, 0))]
    found = KnownBuilds([Shelf(kept)]).candidates(spec((9, 9, 9)))
    measures = [(one.size[0] * one.size[1] * one.size[2], len(one.parts)) for one in found]
    assert measures == sorted(measures)
    assert {parts for _, parts in measures} == {3, 4}


@pytest.mark.parametrize("source", [(0, 0, 4), "U"])
def test_a_bin_that_is_pinned_higher_up_is_served_by_a_build_on_supports(source: Any) -> None:
    """Which works as it did: it is run in the simulator."""
    asked = spec((7, 4, 5), 3, source=source)
    lifted_up = [one for build in KnownBuilds((atlas(),)).builds(asked) for one in placements(build, asked)]
    assert lifted_up
    for one in lifted_up:
        assert one.streams[0].source[2] == 4
        assert not design_findings(one, asked.rules)
    assert any(Judge(asked, (8, 7)).accepts(one) for one in lifted_up)


def test_supports_of_lifted_builds_count_for_limits() -> None:
    """Found by trial: a limit of 8 supports, and builds with 10 and 12 were shown."""
    asked = spec((6, 5, 6), 3, source=(1, 1, 5), limits={"support": PartLimit(most=8)})
    for build in KnownBuilds((atlas(),)).builds(asked):
        for one in placements(build, asked):
            assert [part.kind for part in one.parts].count("support") <= 8
    free = spec((6, 5, 6), 3, source=(1, 1, 5))
    there = [one for build in KnownBuilds((atlas(),)).builds(free) for one in placements(build, free)]
    assert any([part.kind for part in one.parts].count("support") > 8 for one in there)
