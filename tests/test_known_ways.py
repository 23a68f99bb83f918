"""Ways of a row in a box: each is one that the exact search would come to, and keeps off what is taken."""

from dataclasses import replace
from pathlib import Path

import pytest

from sim.geometry import HORIZONTAL
from synth.exact.cubes import cubes_of, image_of, symmetries
from synth.exact.walks import Walk, self_avoiding_walks
from synth.known.ways import legs, ways
from synth.model.question import Question
from synth.plots import Plot, question_for, windows
from synth.spec import Spec
from synth.spec_file import load_spec

SPECS = Path(__file__).parent.parent / "specs"


def _spec(outputs: int, size: tuple[int, int, int]) -> Spec:
    return replace(load_spec(SPECS / "results" / "any-site.toml"), outputs=outputs, size=size)


def _question(spec: Spec) -> Question:
    return question_for(spec, Plot((0, 0, 0), spec.size), windows(spec, (8,)))


def _least_image(walk: Walk, question: Question) -> Walk:
    size = question.grid.size
    return min(tuple(image_of(cell, one, size) for cell in walk) for one in symmetries(question))


@pytest.mark.parametrize(("outputs", "size"), [(3, (4, 3, 4)), (4, (4, 4, 5)), (5, (5, 3, 4))])
def test_every_way_is_one_of_the_cubes(outputs: int, size: tuple[int, int, int]) -> None:
    question = _question(_spec(outputs, size))
    found = list(ways(question))
    assert found
    assert len(set(found)) == len(found)
    assert set(found) <= set(cubes_of(question))


def test_ways_are_self_avoiding_walks_in_the_box() -> None:
    question = _question(_spec(8, (8, 6, 5)))
    found = list(ways(question))
    for walk in found:
        assert len(walk) == 9
        assert walk == _least_image(walk, question)
        assert walk in list(self_avoiding_walks(walk[0], 8, HORIZONTAL, frozenset(walk).__contains__))
        assert {z for _, _, z in walk} <= {2, 3}
        assert all(cell in question.grid for cell in walk)
    folded = tuple((x + 3, y + 1, 2) for x, y in legs((5, 4), 0))
    assert _least_image(folded, question) in found


def test_ways_keep_off_blocked_cells_and_below_their_bin() -> None:
    spec = replace(_spec(4, (7, 5, 5)), blocked=frozenset({(3, 2, 0), (1, 1, 3)}))
    question = _question(spec)
    found = list(ways(question))
    assert found
    for walk in found:
        (x, y, z) = walk[0]
        under = [(x, y, z - down) for x, y, z in walk[1:] for down in (1, 2)]
        assert not spec.blocked & {(x, y, z + 1), *walk, *under}


def test_a_pinned_source_and_an_unbent_row() -> None:
    spec = _spec(4, (7, 5, 5))
    pinned = replace(spec, row="straight", streams=(replace(spec.streams[0], source=(1, 1, 3)),))
    found = list(ways(_question(pinned)))
    assert found
    for walk in found:
        assert walk[0] == (1, 1, 2)
        assert len({x for x, _, _ in walk}) == 1 or len({y for _, y, _ in walk}) == 1


def test_legs() -> None:
    assert legs((3, 2), 1) == ((0, 0), (1, 0), (2, 0), (2, 1), (2, 2), (1, 2))
