"""What ``improve`` says of a build: each sentence names the room, the cost and the schemes it is about."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from commands import LAYOUTS
from sim.world.files.reading import load_layout
from splitwright.commands.improve.report import improve_report
from synth.improve.differences import changes_between
from synth.improve.request import Request
from synth.improve.result import Attempt, Checked, Improvement
from synth.improve.search import improve

WHOLE = load_layout(LAYOUTS / "burst-row-of-two.plan")
DRAIN_GAUGE, INVERTER = (0, 2, 2), (4, 0, 2)


def without(*cells: tuple[int, int, int]) -> Any:
    return replace(WHOLE, parts=tuple(part for part in WHOLE.parts if part.at not in cells))


BROKEN = without(DRAIN_GAUGE, INVERTER)
NOTHING = Checked((), (), (8,))
SITE, WIDER = "in its site of 5 x 4 x 4 cells", "in 7 x 6 x 5 cells (its site, 1 more on each side and above)"
PROVED = "(proved; scope: -v)"
MOVABLE = "with sources and furnaces where they stand"
BOTH = "as a burst row or a muster row"


def attempt(least: int, room: int = 0, scheme: str = "burst row") -> Attempt:
    return Attempt(scheme, room, least, False, 0, 0, 0.0)


def answered(status: Any, **more: Any) -> Improvement:
    return Improvement(status, BROKEN, NOTHING, most=24, **more)


def found(**more: Any) -> Improvement:
    changes = changes_between(BROKEN, WHOLE)
    return answered("found", layout=WHOLE, changes=changes, cost=2, scheme="burst row", after=NOTHING, **more)


def verdict(answer: Improvement) -> str:
    return str(improve_report(answer, "a.plan", [], quiet=True)[0]).removeprefix("a.plan: ")


def first_lines(status: Any, attempts: list[Attempt]) -> list[str]:
    return list(map(str, improve_report(answered(status, attempts=attempts), "a.plan", [], quiet=False)))


@pytest.mark.parametrize(("room", "place"), [(0, SITE), (1, WIDER)])
def test_none_exists_names_the_cost_the_schemes_and_the_room(room: int, place: str) -> None:
    attempts = [attempt(25, room), attempt(25, room, "muster row")]
    answer = answered("none exists", room=room, attempts=attempts)
    assert verdict(answer) == (
        f"no list of changes that costs 24 or less makes it pass {BOTH} {place}, {MOVABLE} {PROVED}."
    )
    assert verdict(replace(answer, impossible=True)) == (
        f"no list of changes makes it pass {BOTH} {place}, {MOVABLE} {PROVED}."
    )


@pytest.mark.parametrize(
    ("proof", "room", "told"),
    [
        ("model", 0, f"none cheaper makes it pass as a burst row {SITE}, {MOVABLE} {PROVED}"),
        ("model", 1, f"none cheaper makes it pass as a burst row {WIDER}, {MOVABLE} {PROVED}"),
        ("single changes", 0, f"none cheaper exists {SITE} (proved: all 2696 single changes were tried)"),
        ("as it stands", 1, "none cheaper exists (proved: it fails as it stands)"),
    ],
)
def test_a_cheapest_list_says_among_which_it_is(proof: Any, room: int, told: str) -> None:
    answer = found(proof=proof, room=room, singles=2696, attempts=[attempt(2, room)])
    assert verdict(answer) == f"2 changes and it passes the trials of a burst row; {told}."


def test_a_list_that_is_not_proved_cheapest_tells_what_bound_is_known_and_where() -> None:
    told = "2 changes and it passes the trials of a burst row; whether a cheaper one exists is open"
    assert verdict(found()) == f"{told}."
    assert verdict(found(attempts=[attempt(1)])) == f"{told}."
    assert verdict(found(attempts=[attempt(25), attempt(0, 2)])) == (
        f"{told}; none that costs less than 25 makes it pass as a burst row {SITE}, {MOVABLE} {PROVED}."
    )


def test_a_bound_of_the_site_is_none_of_the_room_around_it() -> None:
    rooms = [attempt(9), attempt(7, 0, "muster row"), attempt(3, 1), attempt(4, 1, "muster row")]
    assert first_lines("stopped", rooms)[:3] == [
        "a.plan: no list of changes was found within the limit; that is no proof that none exists.",
        f"None that costs less than 3 makes it pass {BOTH} {WIDER}, {MOVABLE} {PROVED}.",
        f"None that costs less than 7 makes it pass {BOTH} {SITE}, {MOVABLE} {PROVED}.",
    ]
    assert str(first_lines("stopped", [attempt(3), attempt(3, 1)])).count("None that costs") == 1
    assert "None that costs" not in str(first_lines("stopped", [attempt(5), attempt(0, 0, "muster row")]))


def test_what_found_nothing_says_what_may_help() -> None:
    (ways,) = [line for line in first_lines("stopped", []) if line.startswith("What may help: ")]
    assert ways == (
        "What may help: more time (--time-limit), or more room around it (--room 2); or a new build: splitwright new"
    )
    assert "--time-limit" not in str(first_lines("none exists", []))


def test_a_build_that_passes_says_which_trials() -> None:
    lines = [str(line) for line in improve_report(improve(WHOLE, Request()), "a.plan", [], quiet=False)]
    assert lines[0] == "a.plan: No change is needed; it passes the trials of a burst row under handover 8 and 7."
    assert (
        "Tried: N, 2N and 18N items at once, N and 18N twice without reset (N = 2); no other load, gap or update order."
    ) in lines


def test_one_change_is_the_fewest_since_the_build_fails_as_it_stands() -> None:
    answer = improve(without(DRAIN_GAUGE), Request(room=0))
    assert (answer.status, answer.proved, answer.proof, answer.cost) == ("found", True, "as it stands", 1)
    assert answer.scope[0] == (
        "to pass: no finding of the design checks, and every trial of a burst row or a muster row even under handover 8"
    )
    assert "2696 of 2696 single changes in 5 x 4 x 4 cells were tried" in answer.scope


def test_two_changes_are_the_fewest_where_every_single_one_was_tried() -> None:
    """By the simulator, so what the constraint model cannot say is no condition of it."""
    answer = improve(BROKEN, Request(scheme="burst row", room=0))
    assert (answer.proof, answer.room, answer.singles) == ("single changes", 0, 2696)
    assert not any("no part can act on itself" in sentence for sentence in answer.scope)
    assert "no single change in 5 x 4 x 4 cells does it (all 2696 tried in the simulator)" in answer.scope


def test_with_prices_it_is_the_model_that_shows_it() -> None:
    answer = improve(without(DRAIN_GAUGE), Request(scheme="burst row", room=0, prices={"gauge": 3}))
    assert (answer.proof, answer.cost) == ("model", 3)
    assert any("no part can act on itself" in sentence for sentence in answer.scope)


def test_what_a_list_may_hold_is_part_of_the_scope() -> None:
    answer = improve(BROKEN, Request(scheme="burst row", room=0, most=1))
    assert answer.status == "none exists"
    (lists,) = [sentence for sentence in answer.scope if sentence.startswith("lists:")]
    assert not any("layer by layer" in sentence for sentence in answer.scope), "the build's own order is kept"
    for limit in ("stay where they stand", "no bin, furnace or node more", "one layer", "comes last", "starts with"):
        assert limit in lists
