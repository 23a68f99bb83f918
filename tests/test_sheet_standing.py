"""The first block of a sheet: each use below the heading that its verdicts allow, and below no other."""

from __future__ import annotations

from browser.sheets import ANSWERS, REFUTED
from commands import LAYOUTS
from sim.analysis.assure.verdict import Verdict
from sim.world.files.reading import load_layout
from splitwright.sheet.html import sheet_html
from splitwright.sheet.request import SheetRequest
from splitwright.sheet.standing import Stands, stands
from splitwright.words import english
from splitwright.words.labels import words_from

ROW = load_layout(LAYOUTS / "burst-row-of-three.plan")
NOTED = {"first": 3, "most": 9, "held": 0, "least": 3, "start": 0}
WHOLE = [Verdict("load", "proved", "s", "t", 1, handover, about="multiples", noted=NOTED) for handover in (8, 7)]


def groups(*verdicts: Verdict) -> dict[str, tuple[str, ...]]:
    return dict(stands(ROW, verdicts, english()).groups)


def test_each_use_stands_below_its_heading() -> None:
    found = groups(*WHOLE, REFUTED, ANSWERS[3])
    assert list(found) == ["sheet.stays_even", "sheet.not_even", "sheet.undecided"]
    assert found["sheet.stays_even"] == ("Tip a whole load in at once (a multiple of 3): even (proved).",)
    assert found["sheet.not_even"][0].startswith("Trickling in: no")
    assert found["sheet.undecided"] == (
        "Loads of 3 and 6 in any update order.",
        "A limit of this sheet came first; splitwright assure LAYOUT takes longer and may settle it.",
    )


def test_what_differs_by_handover_is_not_called_even() -> None:
    refuted = Verdict("load", "refuted", "s", "t", 1, 7, about="multiples")
    assert list(groups(WHOLE[0], refuted)) == ["sheet.depends"]


def test_overheating_is_no_matter_of_evenness() -> None:
    block = stands(ROW, [Verdict("overheating", "proved", "s", "t", 1, 8)], english())
    assert block == Stands((), "Inverters: none overheats (proved).")


def test_without_verdicts_the_sheet_has_no_such_block() -> None:
    assert 'class="stands"' not in sheet_html(ROW, SheetRequest(limit_s=0))
    for words in (english(), words_from({"language": "de"})):
        page = sheet_html(ROW, SheetRequest(verdicts=tuple(WHOLE), words=words))
        assert page.index('class="stands"') < page.index('class="answer"')
        assert page.index(words.text("sheet.stays_even")) < page.index(words.text("sheet.in_trial"))
