"""Advice on how to run a build: said only where a verdict says so; what is left can be got out as it says."""

from __future__ import annotations

import time
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from halls import BIN_HALL, hall
from sim.analysis.assure.asking import Assurance, ask
from sim.analysis.assure.clearing import PARTS_MOST, clearing, clearing_told, without_an_output
from sim.analysis.assure.drift import drift
from sim.analysis.assure.operating import operating
from sim.analysis.assure.request import Request
from sim.analysis.assure.subject import Subject
from sim.analysis.assure.verdict import Verdict
from sim.world.case_file import Case, case_layout
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.parts import Node
from sim.world.rulebook import default_rules
from sim.world.trial import Arrival, run_trial
from splitwright.commands.assure.report import CaseFolder, assurance_report
from splitwright.words import english
from synth.search.known.laid import LaidRows

LAYOUTS = Path(__file__).parent.parent / "specs" / "layouts"
RULES = default_rules()


def layout_of(name: str) -> Layout:
    return load_layout(str(LAYOUTS / f"{name}.plan"))


@cache
def assured(name: str) -> Assurance:
    questions = ("load", "drift", "gaps", "hazards") if name.startswith("burst") else ("load", "gaps")
    return ask(layout_of(name), Request(limit_s=120, workers=1, began=time.monotonic(), questions=questions))


def keys(verdicts: list[Verdict]) -> list[str]:
    return [one.key.removeprefix("operating.") for one in operating(layout_of("burst-row-of-three"), verdicts, RULES)]


def test_a_burst_row_wants_whole_loads_at_rest() -> None:
    said = keys(assured("burst-row-of-three").verdicts)
    assert said == ["whole", "rest_shared", "sizes_not_mixed", "refill_not", "wait", "blocked"]
    text = "\n".join(
        english().text(one)
        for one in operating(layout_of("burst-row-of-three"), assured("burst-row-of-three").verdicts, RULES)
    )
    assert "Put in 3 items at once, or any multiple of 3" in text
    assert "1 then 1 items come to 2 / 0 / 0" in text
    assert "after one of 3 items that is 37 ticks (2 s) at the most" in text


def test_the_ticks_to_wait_are_those_of_the_simulator() -> None:
    """To the last change, in the slower of the two worlds."""
    layout = layout_of("burst-row-of-three")
    last = max(
        run_trial(replace(layout, rules={"handover": handover}), [Arrival(0, "feed", 3)]).tick for handover in (8, 7)
    )
    (wait,) = [
        one
        for one in operating(layout_of("burst-row-of-three"), assured("burst-row-of-three").verdicts, RULES)
        if one.key == "operating.wait"
    ]
    assert wait.values["ticks"] == last


def test_a_gated_row_may_be_refilled_once_every_arrival_is_proved_and_not_before() -> None:
    found = [one for one in assured("gated-row-of-three").verdicts if one.question in ("load", "gaps")]
    assert keys(found) == ["least", "whole_from", "rest_waits", "refill_tried"]
    loads = [one for one in found if one.question == "load"]
    proved = [Verdict("arrivals", "proved", "every pattern", "even", 9, handover) for handover in (8, 7)]
    assert keys([*loads, *proved]) == ["least", "whole_from", "rest_waits", "refill"]


def test_where_handovers_differ_each_has_its_own_advice() -> None:
    """Found by trial: what is wrong under 7 alone was told beside "whenever you like", and of no handover."""
    loads = [one for one in assured("gated-row-of-three").verdicts if one.question == "load"]
    wrong = Verdict("arrivals", "refuted", "every pattern", "30 items come to 2 / 0 / 2", 9, 7)
    told = keys([*loads, Verdict("arrivals", "proved", "every pattern", "even", 9, 8), wrong])
    first = ["least", "whole_from", "rest_waits"]
    assert told == ["under", *first, "refill", "under", *first, "refill_not"]


def test_the_first_load_of_which_every_output_gets_something() -> None:
    """Against the simulator: of 22 no output gets anything, of 23 each one (no multiple of three)."""
    (least,) = [
        one
        for one in operating(layout_of("gated-row-of-three"), assured("gated-row-of-three").verdicts, RULES)
        if one.key.endswith("least")
    ]
    layout, enough = layout_of("gated-row-of-three"), least.values["least"]
    assert enough == 23
    for count, some in ((enough, True), (enough - 1, False)):
        assert all(run_trial(layout, [Arrival(0, "feed", count)]).streams[0].delivered) is some


def test_the_ticks_to_wait_hold_for_later_loads_too() -> None:
    """Found by trial: a gated row takes longer for a load that finds some in the gate."""
    layout = layout_of("gated-row-of-three")
    subject = Subject(layout, RULES, 8)
    multiples = next(drift(subject, Request(limit_s=120, began=time.monotonic())))
    assert multiples.verdict == "proved"
    ticks = multiples.noted["ticks"]
    for first in range(3, 40, 3):
        alone = run_trial(layout, [Arrival(0, "feed", first)]).tick
        late = alone + 100
        both = run_trial(layout, [Arrival(0, "feed", first), Arrival(late, "feed", 3)])
        assert both.tick - late <= ticks


@pytest.mark.parametrize("name", ["burst-row-of-three", "gated-row-of-eight"])
def test_an_output_taken_away(name: str) -> None:
    assert [one.key for one in without_an_output(layout_of(name), 18, RULES)] == ["operating.take_away"]


def test_an_output_that_carries_the_lock_line_is_not_to_be_taken_away() -> None:
    """Fed from the side, furnaces stand below the lock line: without one the line ends there."""
    (build, *_) = LaidRows().builds("burst row", "side", 8)
    (told,) = without_an_output(build.layout, 18, RULES)
    assert told.key == "operating.take_away_not"


def test_of_several_streams_it_says_first_what_goes_where() -> None:
    told = operating(hall(BIN_HALL), assured("burst-row-of-three").verdicts, RULES)
    assert [english().text(one) for one in told[:2]] == [
        "Put clay into the bins at 0,0,3 and 2,0,3; items are counted for each of them by itself.",
        "Put charcoal into the bins at 0,1,2 and 2,1,2; items are counted for each of them by itself.",
    ]
    assert operating(hall(BIN_HALL), [], RULES) == []


def test_nothing_is_said_where_nothing_was_shown() -> None:
    opened = [replace(one, verdict="open") for one in assured("burst-row-of-three").verdicts]
    assert keys(opened) == []
    assert operating(layout_of("burst-row-of-three"), [], RULES) == []


@pytest.mark.parametrize("name", ["gated-row-of-three", "gated-row-of-eight", "row-of-three-no-drain"])
def test_what_waits_can_be_got_out_as_it_says(name: str) -> None:
    layout = layout_of(name)
    result = run_trial(layout, [Arrival(0, "feed", 18 * len(layout.streams[0].outputs) + 1)])
    found = clearing(layout, result, RULES)
    assert found is not None
    assert found.part is not None
    held = {part.at: result.contents[part.at] for part in layout.parts if isinstance(part, Node)}
    assert sum(found.held.values()) == found.out + found.left > 0
    without = replace(layout, parts=tuple(part for part in layout.parts if part != found.part))
    after = run_trial(case_layout(without, Case(holds=held)), ())
    assert sum(after.streams[0].delivered) == found.out
    assert after.streams[0].spread <= 1
    told = [english().text(one) for one in clearing_told(layout, found)]
    assert told[0].startswith(f"After a load of {found.load} items the node at")
    assert "Then put it back." in told[1]


def test_where_nothing_waits_or_is_meant_to_nothing_is_said() -> None:
    layout = layout_of("burst-row-of-three")
    assert clearing(layout, run_trial(layout, [Arrival(0, "feed", 54)]), RULES) is None
    spare = layout_of("gated-row-of-three")
    result = run_trial(spare, [Arrival(0, "feed", 54)])
    kinds = [part for part in spare.parts if part.kind in ("line", "gauge", "relay", "inverter")]
    assert 0 < len(kinds) < PARTS_MOST
    started = [replace(part, holds=(("clay", 1),)) if isinstance(part, Node) else part for part in spare.parts]
    assert clearing(replace(spare, parts=tuple(started)), result, RULES) is None


def test_assure_says_it_below_its_answer() -> None:
    layout = layout_of("burst-row-of-three")
    found = assured("burst-row-of-three")
    folder, path = CaseFolder(Path("unused")), Path("x.plan")
    lines = [str(one) for one in assurance_report(found, folder, layout, path, quiet=False)]
    assert "How to run it:" in lines
    assert any(line.startswith("- Do not put in more while it runs") for line in lines)
    assert [str(one) for one in assurance_report(found, folder, layout, path, quiet=True)] == lines[:1]
