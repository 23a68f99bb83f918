"""From a spec to all that is told of it within a limit of time: layouts, what is shown of each, what to do where there
is none. The commands that propose all answer in this way."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Final

from synth.answer.advice import advice
from synth.answer.clashes import explain
from synth.answer.telling import Teller
from synth.ask.spec import Spec
from synth.confirm.proposal import Proposal
from synth.search.race import propose, too_small_by_counting
from synth.search.request import Request
from synth.search.result import Answer
from synth.solving.deadline import Aside

VERDICTS_SHARE: Final = 0.2
"""Share of the time that is kept for telling what is shown of the layouts."""
VERDICTS_MOST_S: Final = 10.0
NOTHING_SHARE: Final = 0.7
"""Share of the time after which, with nothing found, what stands in the way is looked for."""
ADVICE_SHARE: Final = 0.05
"""Share of the time that is kept for telling what to do next."""
WRITING_S: Final = 0.3
"""Kept for writing the answer."""


def answered(spec: Spec, request: Request) -> Answer:
    """The answer to ``spec``, all of it within ``request.limit_s`` seconds.

    Raises InputError as ``propose`` does.
    """
    began = time.monotonic()
    until = began + request.limit_s - min(WRITING_S, request.limit_s / 10)
    kept = min(VERDICTS_MOST_S, VERDICTS_SHARE * request.limit_s)
    nothing_s = request.limit_s * NOTHING_SHARE
    with Teller(spec, request, until) as teller:

        def found(proposal: Proposal) -> None:
            request.found(proposal)
            teller.note(proposal)

        search = replace(request, limit_s=until - began - kept, nothing_s=nothing_s, found=found)
        answer = propose(spec, search)
        if answer.proposals:
            answer.proposals = teller.told(answer.proposals)
    if not answer.proposals and not request.stop.is_set():
        impossible = too_small_by_counting(spec)
        telling = Aside(lambda: advice(spec, answer, request, impossible))  # beside what takes its time
        if impossible is None:
            left = replace(request, limit_s=max(0.0, until - time.monotonic() - ADVICE_SHARE * request.limit_s))
            explaining = Aside(lambda: explain(spec, answer, left))
            if explaining.wait(until - ADVICE_SHARE * request.limit_s, request.stop):
                explaining.outcome  # noqa: B018 (raises what went wrong)
        if telling.wait(until, request.stop):
            answer.advice = telling.outcome
    answer.interrupted = request.stop.is_set()
    answer.seconds = time.monotonic() - began
    return answer
