"""The constraint model's field and the simulator's, cell by cell, on random fillings of larger boxes.

What is compared is told in ``exhaustive/__init__.py``, how fillings are drawn in ``exhaustive/fillings.py``.
"""

from __future__ import annotations

import pytest

from exhaustive.fillings import BOXES, FILLINGS, compare_random_fillings
from exhaustive.model_side import Size

WORDS = ("support", "furnace", "line", "inverter", "relay", "gauge", "head", "tail", "drop")


@pytest.mark.slow
@pytest.mark.parametrize(("size", "reach"), BOXES, ids=str)
def test_the_field_is_the_same_cell_by_cell(size: Size, reach: int) -> None:
    """Levels, energised cells, what is lit, on, above 0, which nodes are locked, in all four rows of the lock table."""
    fillings = FILLINGS // len(BOXES)
    tally = compare_random_fillings(size, reach, fillings)
    assert tally.differences == []
    assert tally.admitted == fillings
    assert tally.rows == 4 * fillings
    # the comparison was of something: everything was seen both off and on, levels above 1 too; feedback too
    assert all(tally.seen[f"{word} {value}"] >= 100 for word in WORDS for value in (0, 1)), tally.seen
    assert tally.seen["line 2"] >= 1000
    assert set(tally.refused) == {"feedback"}
    assert tally.refused["feedback"] >= 10
