"""The constraint model's field and the simulator's, cell by cell, on random fillings of larger boxes.

What is compared is told in ``exhaustive/__init__.py``, how fillings are drawn in ``exhaustive/fillings.py``.
"""

from __future__ import annotations

import pytest

from exhaustive.fillings import BOXES, FILLINGS, compare_random_fillings
from exhaustive.model_side import Size

WORDS = ("support", "furnace", "line", "inverter", "relay", "gauge", "head", "tail", "drop")


@pytest.mark.slow
@pytest.mark.parametrize(("size", "reach", "stack"), BOXES, ids=str)
def test_the_field_is_the_same_cell_by_cell(size: Size, reach: int, stack: int) -> None:
    """Levels, energised cells, what is lit, on, above 0, which nodes are locked, in all four rows of the lock table."""
    fillings = FILLINGS // len(BOXES)
    tally = compare_random_fillings(size, reach, stack, fillings)
    assert tally.differences == []
    assert tally.admitted == fillings
    assert tally.rows == 4 * fillings
    # the comparison was of something: everything was seen both off and on, levels above 1 too; feedback too
    on = {"gauge": 2 if stack < 3 else 1, "line": 2 if stack < 3 else 1}
    assert all(tally.seen[f"{word} {value}"] >= 100 for word in WORDS for value in (0, on.get(word, 1))), tally.seen
    assert (tally.seen["line 2"] >= 1000) == (reach > 1)
    assert (tally.seen["gauge 2"] >= 100) == (stack < 3)
    assert set(tally.refused) == {"feedback"}
    assert tally.refused["feedback"] >= 10
