"""The account of when the split is even, as rows of a table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from sim.layout import Layout
from sim.rulebook import Rules, known_handovers
from sim.statement import Statement
from splitwright.explaining import mishap_of_case
from splitwright.words import Words

if TYPE_CHECKING:
    from sim.assure.verdict import Verdict


MIXED: Final = "mixed"
"""Refuted for some scope, and not for another."""
HEAT: Final = "overheating"
"""A question that is not about evenness, and has a line of its own."""
SAID: Final = ("proved", "tried", "refuted", MIXED, "open")
"""What is said of a question all in all, in this order."""


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
        stream = "" if verdict.counterexample is None or len(layout.streams) == 1 else verdict.counterexample.stream
        text = f"{stream}: {verdict.text}" if stream else verdict.text
        handover = "" if verdict.handover is None else str(verdict.handover)
        row = VerdictRow(
            verdict.question, verdict.verdict, verdict.scope, text, verdict.cases, handover,
            verdict.decides,
        )  # fmt: skip
        same = next((i for i, other in enumerate(rows) if replace(other, handovers=handover, mishap=()) == row), None)
        if same is not None:
            rows[same] = replace(rows[same], handovers=f"{rows[same].handovers}, {handover}")
        else:
            rows.append(replace(row, mishap=tuple(_where(layout, rules, verdict))))
    return rows


def summary(rows: Sequence[VerdictRow], words: Words) -> list[Statement]:
    """A line for each answer that there is, with the questions that have it; hazards decide nothing and stand apart."""
    answers: dict[str, set[str]] = {}
    for row in rows:
        if row.decides and row.question != HEAT:
            answers.setdefault(row.question, set()).add(row.verdict)
    lines = []
    for key in SAID:
        asked = [words.text(f"question.{question}") for question, found in answers.items() if _all_in_all(found) == key]
        if asked:
            lines.append(Statement(f"summary.{key}", {"questions": ", ".join(asked)}))
    if heat := {row.verdict for row in rows if row.question == HEAT}:
        lines.append(Statement(f"heat.{_all_in_all(heat)}"))
    return lines


def worlds(verdicts: Iterable[Verdict]) -> Statement | None:
    """In which worlds whole loads are split evenly, by the handover that the probe build shows; None: not all of them
    were looked at, or it is even in none."""
    found = {
        verdict.handover: verdict.verdict
        for verdict in verdicts
        if verdict.question == "load" and verdict.about == "multiples"
    }
    known = known_handovers()
    if any(found.get(handover, "open") == "open" for handover in known):
        return None
    even = [handover for handover in known if found[handover] != "refuted"]
    if len(even) == len(known):
        return Statement("worlds.all")
    return Statement("worlds.one", {"handover": even[0]}) if even else None


def _all_in_all(answers: set[str]) -> str:
    """Of several answers to one question the least: a question is proved where each of its scopes is."""
    if "refuted" in answers:
        return "refuted" if answers == {"refuted"} else MIXED
    return next(answer for answer in ("open", "tried", "proved") if answer in answers)


def _where(layout: Layout, rules: Rules, verdict: Verdict) -> Sequence[Statement]:
    """What the counterexample of a verdict shows, run once more and written down."""
    if verdict.counterexample is None or not verdict.decides:
        return ()
    found = mishap_of_case(layout, verdict.counterexample.case, verdict.counterexample.stream, rules)
    return () if found is None else found.statements
