"""The ways of a row as cubes: together they cover the question, and one stands for each set of images."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Final

import networkx as nx
import pytest

from sim.world.geometry import Cell
from synth.ask.spec import Face
from synth.model.build import model_of
from synth.model.plots import Plot, Size, question_for, windows
from synth.model.question import Question
from synth.read.spec_file import load_spec
from synth.schemes.scheme import Windows
from synth.search.exact import cubes as module
from synth.search.exact.cubes import cubes_of, image_of, literals_of, symmetries
from synth.search.exact.walks import Walk
from synth.solving.cadical import Cadical

SPEC = load_spec(Path(__file__).resolve().parent.parent / "specs" / "two-kilns.toml")
BESIDE = ((1, 0), (-1, 0), (0, 1), (0, -1))


def question(size: Size, outputs: int, face: Face = "top", window: Windows | None = None) -> Question:
    """What is asked of a box on an open site of its own size."""
    stream = replace(SPEC.streams[0], enters=face, item="charcoal" if face == "side" else "clay")
    spec = replace(SPEC, outputs=outputs, size=size, streams=(stream,))
    return question_for(spec, Plot((0, 0, 0), size), window or windows(spec, (8, 7)))


def pinned(asked: Question, cells: set[Cell]) -> Question:
    """The same with the source in one of these cells, which tells the images apart."""
    stream = replace(asked.streams[0], source_cells=frozenset(cells))
    return replace(asked, streams=(stream,), break_symmetry=False)


def blocked(asked: Question, cells: set[Cell]) -> Question:
    """The same with some cells taken, which tells the images apart."""
    return replace(asked, grid=replace(asked.grid, blocked=frozenset(cells)), break_symmetry=False)


def rows_by_hand(asked: Question) -> Iterator[Walk]:
    """Every way a row can take, without any symmetry: each tuple of steps is tried, and looked at as a whole."""
    width, depth, height = asked.grid.size
    stream, free = asked.streams[0], set(asked.grid) - asked.grid.blocked
    beneath = 2 if stream.face == "top" else 1
    for x, y, z in product(range(width), range(depth), range(beneath, height - 1)):
        for steps in product(BESIDE, repeat=asked.outputs):
            row = [(x, y, z)]
            for dx, dy in steps:
                row.append((row[-1][0] + dx, row[-1][1] + dy, z))
            bin_ = (x, y, z + 1)
            sourced = stream.source_cells is None or bin_ in stream.source_cells
            straight = asked.straight is None or set(steps) == {{"E": (1, 0), "N": (0, 1)}[asked.straight]}
            if sourced and straight and len(set(row)) == len(row) and {bin_, *row} <= free:
                yield tuple(row)


def images(row: Walk, size: Size) -> set[Walk]:
    """All images of a row in the box, by hand: mirrored, and turned where the box is square."""
    width, depth, _ = size
    found = set()
    for mirrored_x, mirrored_y, swapped in product((False, True), repeat=3):
        if swapped and width != depth:
            continue
        cells = [(width - 1 - x if mirrored_x else x, depth - 1 - y if mirrored_y else y, z) for x, y, z in row]
        found.add(tuple((y, x, z) if swapped else (x, y, z) for x, y, z in cells))
    return found


# -- which cubes there are --------------------------------------------------------------------------------------------

SHAPES = [
    ((4, 2, 4), 2, "top"),
    ((3, 3, 4), 2, "top"),
    ((4, 4, 5), 3, "top"),
    ((5, 3, 4), 4, "top"),
    ((5, 1, 4), 4, "top"),
    ((3, 2, 3), 2, "side"),
    ((4, 4, 4), 2, "side"),
]


@pytest.mark.parametrize(("size", "outputs", "face"), SHAPES, ids=str)
def test_each_row_has_one_image_among_the_cubes(size: Size, outputs: int, face: Face) -> None:
    asked = question(size, outputs, face)
    rows, cubes = set(rows_by_hand(asked)), cubes_of(asked)
    assert rows
    assert len(set(cubes)) == len(cubes)
    assert set(cubes) <= rows
    assert len(cubes) == len({frozenset(images(row, size)) for row in rows})
    for row in rows:
        assert len(images(row, size) & set(cubes)) == 1, row


LARGEST: Final = 64
"""Cells of the boxes whose cubes are counted."""


def counted(width: int, depth: int, steps: int) -> int:
    """Rows of so many steps in one layer of a box, images of one another counted once: simple paths of a grid graph
    (networkx), orbits by the lemma of Cauchy, Frobenius and Burnside."""
    total, group = 0, [one for one in product((0, 1), repeat=3) if width == depth or not one[0]]
    for symmetry in group:
        cells = product(range(width), range(depth))
        fixed = [cell for cell in cells if image_by_hand(cell, symmetry, width, depth) == cell]
        graph: nx.Graph[tuple[int, int]] = nx.grid_2d_graph(width, depth).subgraph(fixed)
        for a, b in ((a, b) for a in graph for b in graph if a != b):
            total += sum(len(path) == steps + 1 for path in nx.all_simple_paths(graph, a, b, cutoff=steps))
    assert total % len(group) == 0
    return total // len(group)


def image_by_hand(cell: tuple[int, int], symmetry: tuple[int, ...], width: int, depth: int) -> tuple[int, int]:
    turned, mirrored_x, mirrored_y = symmetry
    x, y = (width - 1 - cell[0] if mirrored_x else cell[0], depth - 1 - cell[1] if mirrored_y else cell[1])
    return (y, x) if turned else (x, y)


@pytest.mark.parametrize("outputs", [2, 3, 4])
def test_the_cubes_of_every_box_are_as_many_as_its_rows(outputs: int) -> None:
    """Of every box of up to 64 cells; where whole rows are more than a box is cut into, their longest beginnings that
    are not."""
    areas = [(w, d) for w in range(1, LARGEST // 4 + 1) for d in range(1, LARGEST // 4 // w + 1)]
    for width, depth in areas:
        by_steps = {steps: counted(width, depth, steps) for steps in range(1, outputs + 1)}
        for height in range(4, LARGEST // (width * depth) + 1):
            layers = height - 3  # the bin above; a B and a furnace below
            whole = [steps for steps, rows in by_steps.items() if rows * layers <= module.CUBES_MOST]
            expected = by_steps[max(whole)] * layers
            assert len(cubes_of(question((width, depth, height), outputs))) == expected, (width, depth, height)


@pytest.mark.parametrize(("size", "outputs", "face"), SHAPES, ids=str)
def test_without_symmetry_breaking_the_cubes_are_all_rows(
    size: Size, outputs: int, face: Face, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "CUBES_MOST", 10_000)
    asked = replace(question(size, outputs, face), break_symmetry=False)
    cubes = cubes_of(asked)
    assert cubes == sorted(rows_by_hand(asked))
    assert len(cubes) > len(cubes_of(question(size, outputs, face)))


def test_the_symmetries_are_those_of_the_box() -> None:
    """Four of an oblong box, eight of a square one, each its own; none but the identity where the site has marks."""
    for size, count in (((4, 2, 4), 4), ((3, 3, 4), 8)):
        asked = question(size, 2)
        cells = list(asked.grid)
        moved = {tuple(image_of(cell, one, size) for cell in cells) for one in symmetries(asked)}
        assert len(moved) == count
        assert all(sorted(image) == sorted(cells) for image in moved)
        assert len(symmetries(replace(asked, break_symmetry=False))) == 1


@pytest.mark.parametrize(("size", "outputs"), [((4, 4, 4), 5), ((5, 3, 5), 4)], ids=str)
@pytest.mark.parametrize("most", [1, 12, 40])
def test_beginnings_of_long_rows_cover_all_of_them(
    size: Size, outputs: int, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where whole rows would be too many, every row has an image that begins as one of the cubes does."""
    monkeypatch.setattr(module, "CUBES_MOST", most)
    asked = question(size, outputs)
    cubes = cubes_of(asked)
    (steps,) = {len(cube) - 1 for cube in cubes}
    assert steps < outputs
    assert steps == 0 or len(cubes) <= most
    for row in rows_by_hand(asked):
        assert any(image[: steps + 1] in cubes for image in images(row, size)), row


# -- pins -------------------------------------------------------------------------------------------------------------


def test_a_pinned_source_stands_over_t0() -> None:
    asked = pinned(question((4, 3, 5), 2), {(1, 2, 3), (0, 0, 4)})
    cubes = cubes_of(asked)
    assert {cube[0] for cube in cubes} == {(1, 2, 2), (0, 0, 3)}
    assert cubes == sorted(rows_by_hand(asked))


def test_a_source_where_no_row_fits_below_leaves_no_cube() -> None:
    assert cubes_of(pinned(question((4, 3, 5), 2), {(1, 2, 0), (1, 2, 1), (1, 2, 2)})) == []


def test_no_row_runs_through_a_blocked_cell_nor_has_its_bin_there() -> None:
    taken = {(1, 0, 2), (0, 1, 3), (3, 1, 1)}
    asked = blocked(question((4, 2, 4), 2), taken)
    cubes = cubes_of(asked)
    assert cubes == sorted(rows_by_hand(asked))
    assert len(cubes) < len(cubes_of(replace(question((4, 2, 4), 2), break_symmetry=False)))
    for cube in cubes:
        assert not taken & {*cube, (cube[0][0], cube[0][1], 3)}


@pytest.mark.parametrize("straight", ["E", "N"])
@pytest.mark.parametrize("size", [(6, 2, 4), (4, 4, 4), (5, 3, 4)], ids=str)
def test_a_straight_row_may_stand_anywhere(size: Size, straight: str) -> None:
    """Of the images of a row that runs straight on, only those that run the same way are ways of the question."""
    plain = replace(question(size, 2), straight=straight)
    every = set(rows_by_hand(plain))
    assert cubes_of(replace(plain, break_symmetry=False)) == sorted(every)
    cubes = set(cubes_of(plain))
    assert cubes <= every
    assert all(images(row, size) & cubes for row in every)


# -- verdicts ---------------------------------------------------------------------------------------------------------


def test_a_cube_fixes_the_row_and_the_bin() -> None:
    asked = question((4, 2, 4), 2)
    v = model_of(asked)
    of_lit = {lit: (cell, kind) for cell, kinds in v.kind.items() for kind, lit in kinds.items()}
    for cube in cubes_of(asked):
        said = {cell: (kind.name, kind.index) for cell, kind in map(of_lit.__getitem__, literals_of(v, cube))}
        x, y, z = cube[0]
        assert said == {(x, y, z + 1): ("bin", -1), **{cell: ("row", i) for i, cell in enumerate(cube)}}


def verdicts(asked: Question) -> tuple[bool | None, dict[Walk, bool | None]]:
    """Of the whole model, without symmetry breaking, and of each cube, by another solver object."""
    v = model_of(replace(asked, break_symmetry=False))
    whole, by_cube = Cadical(v.clauses), Cadical(v.clauses)
    try:
        return whole.solve(), {cube: by_cube.solve(literals_of(v, cube)) for cube in cubes_of(asked)}
    finally:
        whole.close()
        by_cube.close()


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        (question((3, 2, 4), 2), False),
        (question((4, 1, 4), 2), False),
        (question((3, 2, 4), 3), False),
        pytest.param(question((4, 2, 4), 2), True, marks=pytest.mark.slow),
        pytest.param(question((4, 2, 4), 3), False, marks=pytest.mark.slow),
        pytest.param(pinned(question((4, 2, 4), 2), {(0, 0, 3), (3, 1, 3)}), True, marks=pytest.mark.slow),
        pytest.param(pinned(question((4, 2, 4), 2), {(2, 0, 3)}), None, marks=pytest.mark.slow),
        pytest.param(blocked(question((4, 2, 4), 2), {(0, 0, 0)}), None, marks=pytest.mark.slow),
        pytest.param(blocked(question((4, 2, 4), 2), {(0, 0, 2), (1, 1, 2)}), None, marks=pytest.mark.slow),
    ],
    ids=lambda one: f"{one.outputs} in {one.grid.size}" if isinstance(one, Question) else str(one),
)
def test_the_question_has_an_answer_just_when_a_cube_has(asked: Question, expected: bool | None) -> None:
    """``expected`` None: not known from elsewhere; the two routes are held against each other alone."""
    whole, cubes = verdicts(asked)
    assert whole is not None
    assert None not in cubes.values()
    assert whole == any(cubes.values())
    assert expected in (None, whole)


@pytest.mark.slow
def test_images_of_a_cube_have_its_verdict() -> None:
    """What one cube stands for: each row of two kilns in 4 x 2 x 4, settled by itself, agrees with its cube."""
    asked = question((4, 2, 4), 2)
    _, of_cubes = verdicts(asked)
    _, of_rows = verdicts(replace(asked, break_symmetry=False))
    assert len(of_rows) > len(of_cubes)
    for cube, verdict in of_cubes.items():
        for image in images(cube, (4, 2, 4)):
            assert of_rows[image] == verdict, (cube, image)
    assert set(of_cubes.values()) == {False, True}
