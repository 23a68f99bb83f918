"""All that stands on a sheet, found out once: the page only sets it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from markupsafe import Markup

from sim.analysis.assure.clearing import clearing, clearing_told
from sim.analysis.assure.operating import operating
from sim.analysis.idle_wiring import builders_findings
from sim.analysis.mishap import Mishap, mishaps
from sim.analysis.workings import workings
from sim.errors import InputError
from sim.world.layout import Layout
from sim.world.recording import Recording, record
from sim.world.rulebook import Rules
from sim.world.statement import Statement
from splitwright.cli.explaining import TOLD
from splitwright.cli.first_use import compiling_told
from splitwright.cli.lawbook import Law, laws_in_force
from splitwright.cli.measuring import LayoutMeasures, measured_layout
from splitwright.drawing.layer_plan import layer_plans
from splitwright.drawing.legend import legend_entries
from splitwright.drawing.svg import markup
from splitwright.drawing.turning_view import TurningView, turning_view
from splitwright.sheet.answer import TrialAnswer, other_handovers, purposes, trial_answer
from splitwright.sheet.digest import layout_digest
from splitwright.sheet.figures import Measure, built_measures, fairness_measures, running_measures
from splitwright.sheet.order import OrderOnSheet, order_on_sheet
from splitwright.sheet.parts_list import PartsLine, items_list, parts_list
from splitwright.sheet.repeats import Told, told_once
from splitwright.sheet.replay_data import recording_for_sheet
from splitwright.sheet.replay_section import ReplaySection, replay_section
from splitwright.sheet.request import SheetRequest
from splitwright.sheet.standing import Stands, stands
from splitwright.sheet.verdicts import VerdictRow, verdict_rows, worlds
from splitwright.words import Said, Words
from splitwright.words.told import finding_said, rule_said

if TYPE_CHECKING:
    from sim.analysis.assure.asking import Assurance

PARTS_UNFOLDED: Final = 100
"""Parts of the largest layout whose sheet begins with its lists open."""
SECTIONS: Final = (
    ("shown", "sheet.shown"),
    ("parts-list", "sheet.parts"),
    ("plans", "sheet.plans"),
    ("order", "sheet.order"),
    ("workings", "sheet.workings"),
    ("view", "sheet.view"),
    ("replay", "sheet.replay"),
    ("rules", "sheet.rules"),
)


@dataclass(frozen=True, slots=True)
class Meaning:
    """``is_foreign``: a rulebook's own text, in its own language."""

    text: str
    is_foreign: bool


@dataclass(frozen=True)
class SheetContents:
    """What the templates read; each field is named as the section that shows it."""

    layout: Layout
    heading: str
    digest: str
    recording: Recording | None
    trial: TrialAnswer | None
    other_handovers: list[Statement]
    mishaps: tuple[Mishap, ...]
    left: tuple[Mishap, ...]
    purposes: list[Statement]
    findings: list[Statement | str]
    worlds: Statement | None
    verdicts: list[VerdictRow]
    operating: list[Statement]
    stands: Stands
    is_cut_short: bool
    measures: list[Measure]
    parts: list[PartsLine]
    price: int
    stack: int
    fetched: list[PartsLine]
    plans: list[Markup]
    legend: list[tuple[Markup, Said]]
    order: OrderOnSheet
    topics: list[tuple[str, list[Told]]]
    laws: list[tuple[Law, Meaning]]
    rulebook_title: Meaning
    view: TurningView
    replay: ReplaySection | None

    @property
    def is_long(self) -> bool:
        """So much stands there that what is long on the page begins folded."""
        return len(self.layout.parts) > PARTS_UNFOLDED

    @property
    def is_priced(self) -> bool:
        """The spec sets prices."""
        return any(line.price is not None for line in self.parts)

    @property
    def sections(self) -> list[tuple[str, str]]:
        """Ids and headings of what there is, in order."""
        trouble = [("trouble", "sheet.trouble")] if self.mishaps else []
        return [*trouble, *((id, key) for id, key in SECTIONS if id != "replay" or self.recording is not None)]


def contents_of(layout: Layout, request: SheetRequest) -> SheetContents:
    """Everything that a sheet of ``layout`` says. Raises InputError for a load that the layout has no room for.

    Time: that of the questions (``request.limit_s``), of two trials, and linear in the parts for the rest.
    """
    words, base = request.words, request.rulebook.rules
    request.told("a trial, tick by tick")
    recording = _recorded(layout, request)
    trial = None if recording is None else trial_answer(recording, words)
    told = () if recording is None else mishaps(recording)
    assurance = _answers(layout, request)
    answers = request.verdicts or (() if assurance is None else assurance.verdicts)
    request.told("counterexamples, run once more")
    verdicts = verdict_rows(layout, base, answers, words)
    request.told("measures")
    measured = measured_layout(layout, base, request.prices)
    request.told("build order, and its proof")
    order = order_on_sheet(layout, base, words)
    stack = layout.rules_in_force(base).stack
    request.told("plans and views")
    return SheetContents(
        layout=layout,
        heading=layout.title or words.text("sheet.untitled"),
        digest=layout_digest(layout),
        recording=recording,
        trial=trial,
        other_handovers=other_handovers(measured, words) if request.task is None else [],
        mishaps=tuple(one for one in told if one.kind in TOLD),
        left=tuple(one for one in told if one.kind not in TOLD),
        purposes=purposes(layout),
        findings=[finding_said(one, layout, words) or one.text for one in builders_findings(layout, base)],
        worlds=worlds(answers),
        verdicts=verdicts,
        operating=[*operating(layout, answers, layout.rules_in_force(base)), *_leftovers(layout, recording, base)],
        stands=stands(layout, answers, words),
        is_cut_short=assurance is not None and (not assurance.complete or assurance.is_open),
        measures=_measures(recording, measured, request),
        parts=parts_list(layout, stack, request.prices, order.temporary_at_once),
        price=measured.price,
        stack=stack,
        fetched=items_list(layout, stack),
        plans=[markup(plan) for plan in layer_plans(layout, words, ids=True, blocked=request.blocked)],
        legend=[(markup(sign), meaning) for sign, meaning in legend_entries(layout, words, request.blocked)],
        order=order,
        topics=[(topic.key, told_once(topic.statements)) for topic in workings(layout, base)],
        laws=[
            (law, _meaning(law.entry.name, law.entry.about, words)) for law in laws_in_force(request.rulebook, layout)
        ],
        rulebook_title=_meaning("title", request.rulebook.title, words),
        view=turning_view(layout, words),
        replay=None if recording is None else replay_section(recording, words, request.replay_bytes),
    )


def _meaning(name: str, text: str, words: Words) -> Meaning:
    said = rule_said(name, text, words)
    return Meaning(text if said is None else said, said is None)


def _leftovers(layout: Layout, recording: Recording | None, rules: Rules) -> Iterator[Statement]:
    """What the trial that is shown leaves in the nodes, and how to get it out."""
    found = None if recording is None else clearing(layout, recording.result, rules)
    if found is not None:
        yield from clearing_told(layout, found)


def _recorded(layout: Layout, request: SheetRequest) -> Recording | None:
    """The trial that is shown: the one that was asked for, else the default load; None where there is no stream."""
    base, task = request.rulebook.rules, request.task
    if not layout.streams:
        return None
    if task is None:
        return recording_for_sheet(layout, rules=base, budget_bytes=request.replay_bytes)
    return record(task.layout, rules=base, arrivals=task.arrivals, order=task.order)


def _answers(layout: Layout, request: SheetRequest) -> Assurance | None:
    """The questions when the split is even, within the limits; None where they are not asked or cannot be."""
    if request.verdicts is not None or request.limit_s <= 0 or not layout.streams:
        return None
    from sim.analysis.assure.asking import ask, warm_up  # the compiled kernel is loaded where it is used alone
    from sim.analysis.assure.request import Request
    from sim.analysis.assure.subject import check_streams

    try:
        check_streams(layout)
    except InputError:
        return None
    request.told(compiling_told())
    warm_up()
    asked = Request(
        limit_s=request.limit_s, workers=request.workers, seed=request.seed, told=request.told, stop=request.stop,
        began=time.monotonic(),
    )  # fmt: skip
    return ask(layout, asked, request.rulebook.rules)


def _measures(recording: Recording | None, measured: LayoutMeasures, request: SheetRequest) -> list[Measure]:
    words = request.words
    found = list(built_measures(measured, words, priced=bool(request.prices)))
    if recording is not None:
        found += running_measures(measured, recording.rules.ticks_per_second, words)
        found += fairness_measures(recording.result.streams, words)
    return found
