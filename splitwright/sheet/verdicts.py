"""The account of when the split is even, as rows of a table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sim.world.layout import Layout
from sim.world.rulebook import Rules, known_handovers
from sim.world.statement import Statement
from splitwright.cli.explaining import mishap_of_case
from splitwright.words import Words
from splitwright.words.told import verdict_said

if TYPE_CHECKING:
    from sim.analysis.assure.verdict import Verdict


@dataclass(frozen=True, slots=True)
class VerdictRow:
    """One answer. ``handovers``: under which it was given ("8, 7"); ``mishap``: where its counterexample goes wrong.

    ``is_foreign``: no phrases are known for it in the language of the page; it stays English."""

    question: str
    verdict: str
    scope: str
    text: str
    cases: int
    handovers: str
    decides: bool = True
    is_foreign: bool = False
    mishap: tuple[Statement, ...] = ()


def verdict_rows(layout: Layout, rules: Rules, verdicts: Iterable[Verdict], words: Words) -> list[VerdictRow]:
    """A row a verdict; the same answer under another handover is told in the same row.

    ``rules``: the rulebook that the layout overrides.
    """
    rows: list[VerdictRow] = []
    for verdict in verdicts:
        stream = "" if verdict.counterexample is None or len(layout.streams) == 1 else verdict.counterexample.stream
        text = f"{stream}: {verdict.text}" if stream else verdict.text
        handover = "" if verdict.handover is None else str(verdict.handover)
        scope, said = verdict_said(verdict.scope, words), verdict_said(text, words)
        row = VerdictRow(
            verdict.question, verdict.verdict, scope or verdict.scope, said or text, verdict.cases, handover,
            verdict.decides, is_foreign=scope is None or said is None,
        )  # fmt: skip
        same = next((i for i, other in enumerate(rows) if replace(other, handovers=handover, mishap=()) == row), None)
        if same is not None:
            rows[same] = replace(rows[same], handovers=f"{rows[same].handovers}, {handover}")
        else:
            rows.append(replace(row, mishap=tuple(_where(layout, rules, verdict))))
    return rows


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


def _where(layout: Layout, rules: Rules, verdict: Verdict) -> Sequence[Statement]:
    """What the counterexample of a verdict shows, run once more and written down."""
    if verdict.counterexample is None or not verdict.decides:
        return ()
    found = mishap_of_case(layout, verdict.counterexample.case, verdict.counterexample.stream, rules)
    return () if found is None else found.statements
