"""What an answer is: a verdict on one question, with its scope, and a counterexample where there is one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal

from sim.world.case_file import Case, case_document

Question = Literal["load", "drift", "gaps", "arrivals", "orders", "handover", "overheating", "hazards"]
QUESTIONS: Final[tuple[Question, ...]] = (
    "load", "drift", "gaps", "arrivals", "orders", "handover", "overheating", "hazards",
)
About = Literal["", "multiples", "any number"]
"""Which of the cases of a question: loads of k*N items, or of any number ("": the question has no such parts)."""
Answer = Literal["proved", "refuted", "tried", "open"]
"""``proved``: every case of the scope was looked at; ``refuted``: one is uneven; ``tried``: some were looked at,
none is uneven; ``open``: a limit came first, or the question cannot be put to this layout."""


@dataclass(frozen=True, slots=True)
class Counterexample:
    """A case that is uneven (or shows what it is to show): ``stream`` by name, ``delivered`` to its outputs."""

    stream: str
    delivered: tuple[int, ...]
    case: Case

    def as_json(self) -> dict[str, Any]:
        """``arrivals`` of that stream as [tick, items], update order, what was delivered; the whole case beside."""
        order = self.case.order
        return {
            "stream": self.stream,
            "arrivals": [[one.tick, one.count] for one in self.case.arrivals if one.stream == self.stream],
            "order": None if order is None else [list(cell) for cell in order],
            "delivered": list(self.delivered),
            "case": case_document(self.case),
        }


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer to one question. ``scope``: what it is about, in words; ``cases``: how many were looked at.

    ``states``: how many the exhaustive search has met (None: it was none); ``seed``: of the cases tried at random.
    ``decides``: it counts when the layout as a whole is called even (a hazard does not). ``about``, ``noted``: for the
    advice on how to run it (``operating``); figures by name, which ones says whoever gives the verdict.
    """

    question: Question
    verdict: Answer
    scope: str
    text: str
    cases: int
    handover: int | None = None
    states: int | None = None
    seed: int | None = None
    counterexample: Counterexample | None = None
    seconds: float = 0.0
    decides: bool = True
    about: About = ""
    noted: Mapping[str, int] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        """The verdict as it stands in ``--json`` documents."""
        return {
            "question": self.question,
            "scope": self.scope,
            "verdict": self.verdict,
            "cases": self.cases,
            "states": self.states,
            "seed": self.seed,
            "handover": self.handover,
            "counterexample": None if self.counterexample is None else self.counterexample.as_json(),
            "text": self.text,
            "decides": self.decides,
            "seconds": round(self.seconds, 2),
        }
