"""In which worlds whole loads are split evenly: the line below the sheet's heading."""

from __future__ import annotations

import pytest

from sim.analysis.assure.verdict import Answer, Verdict
from splitwright.sheet.verdicts import worlds
from splitwright.words import english


def loads(*answers: tuple[int, Answer]) -> list[Verdict]:
    return [Verdict("load", answer, "", "", 1, handover, about="multiples") for handover, answer in answers]


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        (
            ((8, "proved"), (7, "tried")),
            "Whole loads are split evenly in either world that splitwright probe tells apart.",
        ),
        (
            ((8, "proved"), (7, "refuted")),
            "Whole loads are split evenly only in a world where splitwright probe shows a handover of 8.",
        ),
        (
            ((8, "refuted"), (7, "proved")),
            "Whole loads are split evenly only in a world where splitwright probe shows a handover of 7.",
        ),
        (((8, "refuted"), (7, "refuted")), None),
        (((8, "proved"), (7, "open")), None),
        (((8, "proved"),), None),
    ],
)
def test_it_is_said_where_both_worlds_were_looked_at(answers: tuple[tuple[int, Answer], ...], said: str | None) -> None:
    found = worlds(loads(*answers))
    assert (found and str(english().say(found))) == said


def test_other_questions_say_nothing_of_it() -> None:
    assert worlds([Verdict("gaps", "refuted", "", "", 1, 8), *loads((8, "proved"), (7, "proved"))]) is not None
    assert worlds([Verdict("load", "proved", "", "", 1, 8, about="any number")]) is None
