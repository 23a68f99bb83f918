"""What the verdicts come to for a builder: each use from the verdicts on it alone, and not more than they say."""

from __future__ import annotations

from dataclasses import replace

import pytest

from commands import REPOSITORY
from sim.analysis.assure.uses import UseTold, uses_told
from sim.analysis.assure.verdict import Answer, Counterexample, Question, Verdict
from sim.world.case_file import Case, CaseArrival
from sim.world.files.reading import load_layout
from splitwright.words import Words, english
from splitwright.words.catalogue import catalogue
from splitwright.words.uses import use_line, use_lines

ROW = load_layout(REPOSITORY / "specs" / "layouts" / "burst-row-of-three.plan")


def verdict(question: Question, answer: Answer, handover: int = 8, **more: object) -> Verdict:
    return replace(Verdict(question, answer, "scope", "text", 5, handover), **more)  # type: ignore[arg-type]


def refuted(question: Question, ticks: list[int], shares: tuple[int, ...], **more: object) -> Verdict:
    case = Case(arrivals=tuple(CaseArrival(tick, "feed", 1) for tick in ticks))
    return verdict(question, "refuted", counterexample=Counterexample("feed", shares, case), **more)


def told(*verdicts: Verdict) -> list[str]:
    return use_lines(uses_told(ROW, verdicts), english())


def test_each_use_is_told_by_what_a_builder_does() -> None:
    assert told(
        refuted("gaps", [0, 9, 18], (2, 1, 0)),
        verdict("load", "proved", about="multiples", noted={"least": 3}),
        verdict("load", "proved", about="any number", noted={"least": 3}),
        refuted("drift", [0, 50], (2, 0, 0), about="any number"),
    ) == [
        "Tip a whole load in at once (a multiple of 3): even (proved).",
        "Tip any number in at once: as even as the number allows (proved).",
        "Loads of any number one after another: not even, 1 + 1 items come to 2 / 0 / 0.",
        "Trickling in: not even, 3 items, one every 9 ticks, come to 2 / 1 / 0.",
    ]


def test_the_first_loads_that_wait_are_told_in_the_same_sentence() -> None:
    loads = [verdict("load", "proved", about=about, noted={"least": least})
             for about, least in (("multiples", 24), ("any number", 23))]  # fmt: skip
    assert told(*loads) == [
        "Tip a whole load in at once (a multiple of 3): even (proved); a first load below 24 waits inside.",
        "Tip any number in at once: as even as the number allows (proved); "
        "of a first load below 23 no output is sure to get any.",
    ]


def test_where_handovers_differ_each_is_named() -> None:
    whole = verdict("load", "proved", about="multiples", noted={"least": 3})
    assert told(whole, replace(whole, handover=7, verdict="refuted")) == [
        "Tip a whole load in at once (a multiple of 3): under handover 8 even (proved); under handover 7 not even."
    ]


@pytest.mark.parametrize(
    ("verdicts", "goes"),
    [
        ([("gaps", "proved"), ("gaps", "tried")], "even in all 10 cases tried; that is no proof"),
        ([("gaps", "tried"), ("arrivals", "proved")], "as even as the number allows (proved)"),
        ([("gaps", "tried"), ("arrivals", "open")], "not decided"),
    ],
)
def test_the_least_answer_decides_but_every_arrival_says_more_than_some_gaps(
    verdicts: list[tuple[Question, Answer]], goes: str
) -> None:
    assert told(*(verdict(*one) for one in verdicts)) == [f"Trickling in: {goes}."]


def test_what_delivers_nothing_or_never_rests_is_not_called_even() -> None:
    nothing = verdict("load", "proved", about="multiples", noted={"least": 0})
    assert told(nothing)[0].endswith(": nothing comes out.")
    assert told(refuted("gaps", [0, 9], (1, 1, 0)))[0].endswith("no, after 2 items it never comes to rest.")


def test_what_does_not_decide_is_left_out() -> None:
    assert told(verdict("load", "refuted", about="multiples", decides=False)) == []


def test_every_answer_is_said_in_every_language() -> None:
    german = Words("de", catalogue("de"))
    one = uses_told(ROW, [refuted("gaps", [0, 9, 18], (2, 1, 0))])
    assert [isinstance(use, UseTold) for use in one] == [True]
    assert use_line(one[0], german).startswith("Stück für Stück")
