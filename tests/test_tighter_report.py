"""The verdict of ``tighter``: a sentence for each end of a search, and no more than it has shown."""

from __future__ import annotations

import pytest

from commands import LAYOUTS
from sim.world.files.reading import load_layout
from splitwright.commands.tighter.report import Given, tighter_report
from synth.ask.spec import Spec
from synth.confirm.judge import Judge
from synth.confirm.proposal import Proposal
from synth.read.layout import spec_of_layout
from synth.search.result import Answer, Step

LAYOUT = load_layout(LAYOUTS / "burst-row-of-two.plan")
SPEC, READINGS = spec_of_layout(LAYOUT)
TITLE = "Two kilns, even for a burst of clay: 2 furnaces: "
TIGHTER = "yes, there is a tighter one: 80 cells in place of 80, 32 parts in place of 32"
"""Of the layout itself, in its own place."""
PROVED, OPEN = [Step("volume", 80, 80, True)], [Step("volume", 80, 40, False)]


def proposal() -> Proposal:
    return Judge(SPEC, (SPEC.rules.handover,)).as_it_is(LAYOUT)


def verdict(answer: Answer, given: Given | None = None, spec: Spec = SPEC) -> str:
    return str(tighter_report(spec, given, answer, [], quiet=True)[0]).removeprefix(TITLE)


def given(proposal: Proposal | None) -> Given:
    return Given("a.plan", LAYOUT, READINGS, proposal)


def test_a_layout_that_cannot_be_bettered() -> None:
    assert verdict(Answer(steps=PROVED), given(proposal())) == (
        "no, none tighter exists (proved; scope below)."
    )


def test_no_layout_at_all_in_the_cells_of_one_that_fails() -> None:
    """It was not asked whether there is one in more cells."""
    assert verdict(Answer(), given(None)) == "no, none exists in as many cells (proved; scope below)."


@pytest.mark.parametrize(
    ("measure", "told"),
    [
        ("volume", "none of less volume exists"),
        ("parts", "none with fewer parts exists"),
        ("throughput", "none of more throughput exists"),
    ],
)
def test_the_first_measure_is_named_as_it_ranks(measure: str, told: str) -> None:
    answer = Answer([proposal()], steps=[Step(measure, 80, 80, True)])
    assert verdict(answer) == f"{told} (proved; scope below)."
    assert verdict(answer, given(proposal())) == f"{TIGHTER}, and {told} (proved; scope below)."


def test_what_is_open_is_told_to_be() -> None:
    assert verdict(Answer([proposal()], steps=OPEN)) == "the best found; whether a better one exists is open."
    assert verdict(Answer([proposal()], steps=OPEN), given(proposal())) == f"{TIGHTER}."
    for one in (None, given(proposal()), given(None)):
        assert verdict(Answer(complete=False), one).endswith("that is no proof that none exists.")


def test_nothing_in_the_site() -> None:
    assert verdict(Answer()) == "none exists in the site (proved; scope below)."


def test_each_measure_has_its_line() -> None:
    steps = [*PROVED, Step("parts", 30, 30, True)]
    lines = tighter_report(SPEC, None, Answer([proposal()], steps=steps), [], quiet=False)
    assert lines[1:3] == [
        "  volume 80: proved, no layout has less", "  parts 30: proved, no layout of that volume has fewer",
    ]  # fmt: skip
