"""The account of when the split is even, as rows of a table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from sim.layout import Layout
from sim.rulebook import Rules
from sim.statement import Statement
from splitwright.explaining import mishap_of_case
from splitwright.words import Words

if TYPE_CHECKING:
    from sim.assure.verdict import Verdict


ANSWERS: Final = ("proved", "tried", "refuted", "open")
MIXED: Final = "mixed"
"""Several answers to one question: it depends on the scope."""


@dataclass(frozen=True, slots=True)
class VerdictRow:
    """One answer. ``handovers``: under which it was given ("8, 7"); ``mishap``: where its counterexample goes wrong."""

    question: str
    verdict: str
    scope: str
    text: str
    cases: int
    handovers: str
    decides: bool = True
    mishap: tuple[Statement, ...] = ()


def verdict_rows(layout: Layout, rules: Rules, verdicts: Iterable[Verdict]) -> list[VerdictRow]:
    """A row a verdict; the same answer under another handover is told in the same row.

    ``rules``: the rulebook that the layout overrides.
    """
    rows: list[VerdictRow] = []
    for verdict in verdicts:
        handover = "" if verdict.handover is None else str(verdict.handover)
        row = VerdictRow(
            verdict.question, verdict.verdict, verdict.scope, verdict.text, verdict.cases, handover,
            verdict.decides,
        )  # fmt: skip
        same = next((i for i, other in enumerate(rows) if replace(other, handovers=handover, mishap=()) == row), None)
        if same is not None:
            rows[same] = replace(rows[same], handovers=f"{rows[same].handovers}, {handover}")
        else:
            rows.append(replace(row, mishap=tuple(_where(layout, rules, verdict))))
    return rows


def summary(rows: Iterable[VerdictRow], words: Words) -> list[Statement]:
    """A line for each answer that there is, with the questions that have it; hazards decide nothing and stand apart."""
    answers: dict[str, set[str]] = {}
    for row in rows:
        if row.decides:
            answers.setdefault(row.question, set()).add(row.verdict)
    lines = []
    for key in (*ANSWERS, MIXED):
        asked = [
            question for question, found in answers.items() if (len(found) > 1 if key == MIXED else found == {key})
        ]
        if asked:
            texts = ", ".join(words.text(f"question.{question}") for question in asked)
            lines.append(Statement(f"summary.{key}", {"questions": texts}))
    return lines


def _where(layout: Layout, rules: Rules, verdict: Verdict) -> Sequence[Statement]:
    """What the counterexample of a verdict shows, run once more and written down."""
    if verdict.counterexample is None or not verdict.decides:
        return ()
    found = mishap_of_case(layout, verdict.counterexample.case, verdict.counterexample.stream, rules)
    return () if found is None else found.statements
