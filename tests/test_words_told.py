"""What verdicts, findings and rulebooks say, in German: every sentence that real layouts bring about, and none of ours
left in English."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from commands import LAYOUTS, REPOSITORY
from sim.analysis.assure.asking import ask
from sim.analysis.assure.hazards import HAZARDS
from sim.analysis.assure.request import Request
from sim.analysis.idle_wiring import builders_findings
from sim.world.files.reading import load_layout
from sim.world.rulebook import default_rules, load_rulebook
from splitwright.words import Words, english
from splitwright.words.catalogue import catalogue
from splitwright.words.labels import fields_of, words_from
from splitwright.words.told import finding_said, rule_said, verdict_said

FAMILIES = ("told.", "finding.", "rule.")
PLANS = sorted(LAYOUTS.glob("*.plan"))


@pytest.fixture(scope="module")
def german() -> Words:
    return words_from({"language": "de"})


@pytest.mark.parametrize("layout", PLANS, ids=lambda path: path.stem)
def test_every_verdict_on_the_examples_is_said_in_german(layout: Path, german: Words) -> None:
    """Asked for a moment only, so that what is left open is told too."""
    check_said(layout, 1.5, german)


@pytest.mark.slow
def test_every_verdict_that_is_given_time_is_said_in_german(german: Words) -> None:
    """Proofs, counterexamples and hazards, each answered."""
    questions = check_said(LAYOUTS / "burst-row-of-two.plan", 60.0, german)
    assert {"load", "drift", "gaps", "arrivals", "orders", "handover", "overheating", "hazards"} <= questions


def check_said(layout: Path, limit_s: float, german: Words) -> set[str]:
    """The questions that were answered."""
    known = load_layout(layout)
    if not known.streams:
        return set()
    verdicts = ask(known, Request(limit_s=limit_s, workers=2), default_rules()).verdicts
    for verdict in verdicts:
        for text in (verdict.scope, verdict.text):
            said = verdict_said(text, german)
            assert said is not None, text
            assert said != text or not re.search(r"[a-z]{4}", text), text
            assert not re.search(r"\b(the|items?|every|loads?|come|even|with|of)\b", said), said
    return {verdict.question for verdict in verdicts if verdict.verdict != "open"}


def test_numbers_and_shares_come_through(german: Words) -> None:
    """By hand, from the sentences of sim/analysis/assure."""
    assert verdict_said("one load of k*3 items, k = 1..576, outputs emptied as they fill", german) == (
        "eine Ladung von k·3 Stück, k = 1 bis 576, Ziele werden laufend geleert"
    )
    assert verdict_said("feed: 3 items, one every 9 ticks, come to 2 / 1 / 0", german) == (
        "feed: 3 Stück, eines alle 9 Takte: 2 / 1 / 0"
    )
    assert verdict_said("even in all 1,728 (acyclic orientations of the exchange graph)", german) == (
        "gleichmäßig in allen 1.728 (azyklische Orientierungen des Austauschgraphen)"
    )
    assert verdict_said("1 then 3 items come to 2 / 1 / 1", german) == "1 + 3 Stück kommen auf 2 / 1 / 1"
    hazard = (
        "one item of another kind comes before the 54 of feed: feed comes to 18 / 18 / 0, 18 items waiting in nodes "
        "(most, 18, at 3,1,1); what helps: empty the outputs, or keep loads below what the fullest of them has room for"
    )
    assert verdict_said(hazard, german) == (
        "ein Stück einer anderen Sorte kommt vor den 54 von feed: feed kommt auf 18 / 18 / 0, 18 Stück warten in der"
        " Anlage (am meisten, 18, in 3,1,1); was hilft: die Ziele leeren, oder nicht mehr einlegen, als das vollste"
        " noch fasst"
    )
    assert verdict_said("what nobody says", german) is None
    assert verdict_said("what nobody says", english()) == "what nobody says"


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.name)
def test_every_hazard_and_its_remedy_has_a_phrase(hazard: object, german: Words) -> None:
    assert verdict_said(hazard.name, german)  # type: ignore[attr-defined]
    assert verdict_said(hazard.remedy, german)  # type: ignore[attr-defined]


def test_every_check_has_a_phrase(german: Words) -> None:
    """Names of checks as they stand where findings are made."""
    world, analysis = REPOSITORY / "sim" / "world", REPOSITORY / "sim" / "analysis"
    sources = [*(analysis / "checks").glob("*.py"), analysis / "idle_wiring.py", world / "world.py", world / "trial.py"]
    made = re.compile(r"(?:Finding|Explained)\(\s*\"([a-z ]+)\"")
    names = {name for path in sources for name in made.findall(path.read_text(encoding="utf-8"))}
    assert len(names) >= 14
    assert {f"finding.{name.replace(' ', '_')}" for name in names} <= german.phrases.keys()
    for path in PLANS:
        layout = load_layout(path)
        for finding in builders_findings(layout, default_rules()):
            said = finding_said(finding, layout, german)
            assert said is not None
            assert german.text(said)
            assert finding_said(finding, layout, english()) is None


def test_the_shipped_rulebook_is_said_and_no_other(german: Words) -> None:
    book = load_rulebook()
    for name, text in (("title", book.title), *((entry.name, entry.about) for entry in book.entries)):
        assert rule_said(name, text, german) not in (None, text), name
        assert rule_said(name, text + " here", german) is None, "a house's own text is its own"
        assert rule_said(name, text, english()) == text


def test_both_languages_have_the_same_fields() -> None:
    """Rules may name kinds of parts in one language alone; what is filled in is the same."""
    ours, theirs = catalogue("en"), catalogue("de")
    for key in (key for key in ours if key.startswith(FAMILIES)):
        assert fields_of(ours[key]) == fields_of(theirs[key]), key
