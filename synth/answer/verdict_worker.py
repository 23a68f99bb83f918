"""What is shown of a layout, as work for an engine: in a process of its own, which compiles what that takes while a
search runs, and can be killed."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sim.analysis.assure.verdict import Question, Verdict
from sim.world.layout import Layout
from sim.world.rulebook import Rules
from synth.solving.parallel.work import Tell, Work

MEBIBYTES: Final = 512
"""Memory of the search over all arrivals for one layout."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A layout (None: none yet, make ready), and what is to be told of it under these rules within so many seconds."""

    layout: Layout | None
    rules: Rules
    seconds: float
    workers: int
    seed: int
    questions: tuple[Question, ...]


def verdicts_on(asked: Asked, _seconds: float, _tell: Tell) -> Sequence[Verdict]:
    """The verdicts."""
    from sim.analysis.assure.asking import ask, warm_up  # the kernel is loaded where it is used alone
    from sim.analysis.assure.request import Request

    if asked.layout is None:
        os.nice(5)  # the search has the right of way
        warm_up()
        return ()
    request = Request(asked.seconds, MEBIBYTES, asked.workers, asked.seed, asked.questions)
    return ask(asked.layout, request, asked.rules).verdicts


def _none(_so_far: object, _why: str) -> Sequence[Verdict]:
    return ()


VERDICTS: Final = Work(verdicts_on, _none)
