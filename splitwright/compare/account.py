"""What a search has shown, as a comparison tells it: what is proved, what stands in the way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from sim.world.statement import Statement, Value
from splitwright.proposing.report import candidate_lines, claim_lines, shown_of, site_ruled_out
from splitwright.words import Words
from synth.ask.spec import Spec
from synth.hall.result import HallAnswer
from synth.search.result import Answer, Obstacle, Step

REFUSALS_MOST: Final = 10


@dataclass(frozen=True, slots=True)
class Account:
    """``headline``, ``steps``, ``obstacles``, ``refusals``: statements. ``report``: lines of the search's own report,
    and ``clashes``, its sentences on limits that clash: both in English."""

    headline: tuple[Statement, ...]
    steps: tuple[Statement, ...] = ()
    report: tuple[str, ...] = ()
    obstacles: tuple[Statement, ...] = ()
    clashes: tuple[str, ...] = ()
    refusals: tuple[Statement, ...] = ()


def account_of(spec: Spec, answer: Answer, words: Words) -> Account:
    """The account of a search for splits."""
    scope = f"Scope: {'; '.join(answer.scope)}; {answer.solver}."
    return Account(
        tuple(_headline(bool(answer.proposals), site_ruled_out(spec, answer), answer.complete)),
        tuple(_steps(answer.steps, words)),
        (*shown_of(spec, answer.proposals), *claim_lines(answer.claims), *candidate_lines(answer.claims), scope),
        tuple(_obstacle(obstacle) for obstacle in answer.obstacles),
        tuple(clash.text for clash in answer.clashes),
    )


def account_of_hall(answer: HallAnswer) -> Account:
    """The account of a search for halls: what is shown of the pieces of the best one, and why others were not taken."""
    claims = [
        f"{claim.piece}: {claim.text} ({row.scope_of(claim)})."
        for proposal in answer.proposals[:1]
        for row in (proposal.kit.feed, proposal.kit.fuel)
        for claim in row.claims
    ]
    return Account(
        tuple(_headline(bool(answer.proposals), False, answer.complete)),
        report=tuple(dict.fromkeys(claims)),
        refusals=tuple(_refusals(answer.refusals)),
    )


def _headline(is_found: bool, is_ruled_out: bool, is_complete: bool) -> Iterator[Statement]:
    if is_found:
        yield Statement("compare.confirmed")
    else:
        yield Statement("compare.none_proved" if is_ruled_out else "compare.none_found")
    if not is_complete:
        yield Statement("compare.cut_short")


def _steps(steps: Sequence[Step], words: Words) -> Iterator[Statement]:
    """How far each measure has come; what is shown of a later one is shown of layouts as good in those before it."""
    names = [words.text(f"compare.by_{step.measure}") for step in steps]
    for i, step in enumerate(steps):
        yield _step(step, {"measure": names[i], "value": _written(step.value, words)}, names[:i], words)


def _step(step: Step, told: dict[str, Value], before: Sequence[str], words: Words) -> Statement:
    if step.proved:
        key = "compare.step_proved"
    elif step.bound is None:
        return Statement("compare.step_open", told)
    else:
        key, told["bound"] = "compare.step_bound", _written(step.bound, words)
    return Statement(f"{key}_among", {**told, "before": ", ".join(before)}) if before else Statement(key, told)


def _written(value: float, words: Words) -> str:
    return words.number(value, 0 if value == int(value) else 1)


def _obstacle(obstacle: Obstacle) -> Statement:
    keys = {True: "compare.obstacle_helps", False: "compare.obstacle_helps_not", None: "compare.obstacle_open"}
    return Statement(keys[obstacle.helps], {"limit": obstacle.limit, "relaxed": obstacle.relaxed})


def _refusals(refusals: Sequence[str]) -> Iterator[Statement]:
    for why in refusals[:REFUSALS_MOST]:
        yield Statement("compare.refused", {"why": why})
