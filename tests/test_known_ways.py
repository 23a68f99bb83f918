"""Ways of a row in a box: each is one that the exact search would come to, and keeps off what is taken."""

from dataclasses import replace
from pathlib import Path

import pytest

from sim.world.geometry import HORIZONTAL
from synth.ask.spec import Spec
from synth.model.build import model_of
from synth.model.plots import Plot, question_for, windows
from synth.model.question import Question
from synth.read.spec_file import load_spec
from synth.search.exact.caps import Caps
from synth.search.exact.cubes import cubes_of, image_of, symmetries
from synth.search.exact.job import Job, steps_of
from synth.search.exact.walks import Walk, self_avoiding_walks
from synth.search.known.ways import legs, lock_lines, locks_told, ways

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


def test_lock_lines_run_along_the_outer_sides_of_a_folded_row() -> None:
    spec = _spec(6, (6, 4, 4))
    walk = tuple((x + 2, y + 1, 2) for x, y in legs((4, 3), 0))
    asked = _question(spec)
    assert set(lock_lines(asked, walk)) == {(x, y, 2) for x in (3, 4, 5) for y in (0, 3)}
    assert lock_lines(replace(asked, grid=replace(asked.grid, blocked=frozenset({(4, 0, 1)}))), walk) == []
    assert lock_lines(_question(_spec(6, (6, 3, 4))), walk) == []
    bent = tuple((x + 1, y + 1, 2) for x, y in legs((3, 3), 1))
    assert lock_lines(asked, bent) == []


def test_a_folded_row_with_its_lock_lines_told_is_found_at_once() -> None:
    spec = replace(_spec(6, (5, 4, 4)), scheme="headed undrained row", leftovers="hold")
    question = replace(_question(spec), row_unlocked=True, break_symmetry=False)
    walk = tuple((x + 1, y + 1, 2) for x, y in legs((4, 3), 0))
    told = tuple(locks_told(model_of(question), walk))
    *_, report = steps_of(Job(spec, question, (8,), (walk,), Caps(), 40_000, nogoods=told))
    (found,) = report.found
    assert found.proposal.layout.by_cell.keys() >= {(x, y, 2) for x in (2, 3, 4) for y in (0, 3)}
