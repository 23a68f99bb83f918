"""Specs that ask for straight rows: the model, the cubes and the search keep to it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from synth.ask.spec import Spec
from synth.model.build import model_of
from synth.model.plots import Plot, Size, question_for, windows
from synth.model.question import Question
from synth.model.vocabulary import row_node
from synth.read.spec_file import load_spec
from synth.search.exact.cubes import cubes_of
from synth.search.race import tighter
from synth.search.request import Request
from synth.search.scope import needed_handovers
from synth.solving.cadical import Cadical


def straight(repository: Path, outputs: int, size: Size) -> Spec:
    spec = load_spec(repository / "specs" / "results" / "any-site.toml")
    return replace(spec, outputs=outputs, size=size, row="straight", scheme="burst row")


def question(repository: Path, outputs: int, size: Size) -> Question:
    spec = straight(repository, outputs, size)
    return question_for(spec, Plot((0, 0, 0), size), windows(spec, needed_handovers(spec)))


def is_straight(row: list[tuple[int, int, int]]) -> bool:
    return len({tuple(b - a for a, b in zip(*pair, strict=True)) for pair in pairwise(row)}) == 1


def test_the_cubes_of_a_straight_row(repository: Path) -> None:
    """By hand, 4 x 3 x 4, N = 3: the row is 4 long, so it lies along the width in one of 3 lines; mirrored, in 2."""
    cubes = cubes_of(question(repository, 3, (4, 3, 4)))
    assert len(cubes) == 2
    assert all(is_straight(list(cube)) for cube in cubes)
    assert cubes_of(question(repository, 4, (4, 3, 4))) == []


def test_the_model_keeps_rows_straight_without_the_cubes_help(repository: Path) -> None:
    """The bent row of the smallest build for three kilns is admitted when it may be, and refused when it may not."""
    asked = replace(question(repository, 3, (5, 2, 4)), break_symmetry=False)
    bent = ((0, 0, 2), (0, 1, 2), (1, 1, 2), (2, 1, 2))
    for unbent in (False, True):
        v = model_of(replace(asked, unbent=unbent))
        row = [v.is_(cell, row_node(0, i)) for i, cell in enumerate(bent)]
        assert Cadical(v.clauses).solve(row) is not unbent


@pytest.mark.slow
def test_the_smallest_straight_row_of_two(repository: Path) -> None:
    """It takes more room than a bent one (docs/results.md: 32 cells), and keeps straight."""
    answer = tighter(straight(repository, 2, (4, 3, 4)), Request(limit_s=300.0))
    assert answer.complete
    best = answer.proposals[0]
    assert best.measures.volume > 32
    (stream,) = best.layout.streams
    nodes = {part.at for part in best.layout.parts if part.kind == "node"}
    row = sorted(cell for cell in nodes if cell[2] == stream.source[2] - 1)
    assert len(row) == 3
    assert is_straight(row)


def test_a_box_with_no_way_for_the_row_is_ruled_out_at_once(repository: Path) -> None:
    answer = tighter(straight(repository, 4, (4, 3, 4)), Request(limit_s=60.0))
    assert answer.complete
    assert answer.proposals == []
    assert {claim.verdict for claim in answer.claims} == {"none exists"}
