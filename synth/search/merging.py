"""The answers of several schemes made one: layouts ranked together, what is known of each measure over all of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from synth.ask.spec import Spec
from synth.confirm.measures import rank_key
from synth.confirm.proposal import Proposal
from synth.search.result import Answer, Step


def merged(
    spec: Spec,
    proposals: Sequence[Proposal],
    best: Proposal | None,
    answers: Sequence[Answer],
    schemes: Sequence[str],
) -> Answer:
    """One answer with these layouts, the best first. ``best``: the best one that claims are about, and so the steps;
    ``schemes``: all that serve the spec; one that did not search leaves the answer incomplete."""
    had_turns = {name for answer in answers for name in answer.schemes}
    every = set(schemes) <= had_turns
    return Answer(
        proposals=list(proposals),
        claims=[claim for answer in answers for claim in answer.claims],
        steps=[] if best is None else list(_steps(spec, best, answers, every)),
        scope=list(dict.fromkeys(sentence for answer in answers for sentence in answer.scope)),
        solver=next((answer.solver for answer in answers), ""),
        complete=every and all(answer.complete for answer in answers),
        schemes=tuple(schemes),
    )


def _steps(spec: Spec, best: Proposal, answers: Sequence[Answer], every: bool) -> Iterator[Step]:
    """How far each measure has come over all schemes: no further than where it has come least far.

    A scheme that is shown to be worse in one measure has no say in those after it, nor has one that has no layout.
    """
    proved = every
    alive = [answer for answer in answers if answer.steps or not answer.complete]
    for measure in spec.order:
        (value,) = rank_key(best.measures, (measure,))
        least = [_least(answer, measure) for answer in alive]
        if alive and not any(_has_come_to(answer, measure) for answer in alive):
            return
        known = [bound for bound in least if bound is not None]
        lower = min(known, default=value) if len(known) == len(least) and every else None
        proved = proved and lower is not None and lower >= value
        bound = value if proved else lower if measure != "throughput" else None
        yield Step(measure, abs(value), None if bound is None else abs(bound), proved)
        alive = [one for one, bound in zip(alive, least, strict=True) if bound is None or bound <= value]


def _has_come_to(answer: Answer, measure: str) -> bool:
    return measure in answer.lows or any(step.measure == measure for step in answer.steps)


def _least(answer: Answer, measure: str) -> float | None:
    """What no layout of the answer's scheme is better than in that measure (throughput negative, as ranks have it)."""
    step = next((step for step in answer.steps if step.measure == measure), None)
    if step is None:
        return answer.lows.get(measure)
    sign = -1 if measure == "throughput" else 1
    return sign * step.value if step.proved else None if step.bound is None else sign * step.bound
