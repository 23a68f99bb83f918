"""What a look came to, as short text and as one JSON document."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from rich.console import RenderableType

from sim.errors import InputError
from sim.world.files.picture import layers_side_by_side
from sim.world.files.places import counted, printable
from sim.world.geometry import cell_text
from sim.world.trial import StreamResult
from sim.world.trial_json import finding_document
from sim.world.world import Finding
from splitwright.cli.explaining import explanation_document, mishap_text
from splitwright.cli.output import stdout_width
from splitwright.cli.trial_report import LAYOUTS_ORDER, default_counts, nothing_text, scope_of
from splitwright.commands.watch.changes import Change
from splitwright.commands.watch.hall_look import HallNews
from splitwright.commands.watch.layout_look import LayoutNews, Tried
from splitwright.commands.watch.spec_look import SpecNews
from splitwright.proposing.hall_report import hall_table, hall_verdict, refusal_lines
from splitwright.proposing.report import proposal_report, proposal_table

FORMAT: Final = "splitwright-watch/1"
LISTED_MOST: Final = 12
"""Changes, findings and sentences that are listed one by one."""

News = LayoutNews | SpecNews | HallNews | InputError


def lines_of(news: News, quiet: bool) -> list[RenderableType]:
    """What is printed; ``quiet``: the answer alone."""
    if isinstance(news, InputError):
        return [printable(str(news))]
    if isinstance(news, SpecNews):
        return _spec_lines(news, quiet)
    if isinstance(news, HallNews):
        return _hall_lines(news, quiet)
    lines: list[RenderableType] = [*_answers(news)]
    if quiet:
        return lines
    if news.changes is not None:
        lines += _listed("Changed since the last save", list(map(_change_text, news.changes)), "nothing in the layout")
    for heading, texts in _mishaps(news.tried).items():
        lines += _listed(heading, texts, None)
    return [*lines, *_listed(counted(len(news.findings), "finding"), list(map(_finding_text, news.findings)), None)]


def document_of(news: News, file: str, run: int) -> dict[str, Any]:
    """``splitwright-watch/1``: one look."""
    head = {"format": FORMAT, "run": run, "file": file, "fault": None}
    if isinstance(news, InputError):
        return {**head, "fault": str(news)}
    if isinstance(news, SpecNews):
        return {**head, "answer": {**news.answer.as_json(), "files": []}}
    if isinstance(news, HallNews):
        return {**head, "hall": news.answer.as_json()}
    changes = None if news.changes is None else [change.as_json() for change in news.changes]
    return {
        **head,
        "even": news.is_even,
        "trials": [_tried_document(one) for one in news.tried],
        "findings": [finding_document(finding) for finding in news.findings],
        "changes": changes,
    }


def _answers(news: LayoutNews) -> Iterator[str]:
    """``Even: feed 18 / 18 for this one load (...) and handover 8 and 7.``, one line for all handovers with the same
    outcome."""
    outcomes: dict[str, list[str]] = {}
    for one in news.tried:
        streams = ", ".join(map(_stream_text, one.result.streams))
        outcomes.setdefault(f"{_word(one)}{f': {streams}' if streams else ''}", []).append(str(one.handover))
    counts = default_counts(news.layout)
    for outcome, handovers in outcomes.items():
        under = " and ".join(handovers)
        if counts:
            yield f"{outcome} {scope_of(counts, 'there at once', LAYOUTS_ORDER, under)}."
        else:
            yield f"{outcome} (handover {under})."


def _word(one: Tried) -> str:
    return nothing_text(one.result) if one.word == "nothing delivered" else _capital(one.word)


def _stream_text(stream: StreamResult) -> str:
    held = f", {stream.held} held in nodes" if stream.held else ""
    return f"{printable(stream.name)} {' / '.join(map(str, stream.delivered))}{held}"


def _listed(heading: str, texts: Sequence[str], none: str | None) -> Iterator[str]:
    """A heading, and a line each; one line where there are none (``none`` None: nothing)."""
    if texts:
        yield f"{heading}:"
        yield from (f"  {text}" for text in texts[:LISTED_MOST])
        if len(texts) > LISTED_MOST:
            yield f"  and {len(texts) - LISTED_MOST} more"
    elif none is not None:
        yield f"{heading}: {none}."


def _change_text(change: Change) -> str:
    return printable(change.text)


def _finding_text(finding: Finding) -> str:
    at = f" at {cell_text(finding.at)}" if finding.at is not None else ""
    return f"{finding.check}{at}: {printable(finding.text)}"


def _mishaps(tried: Sequence[Tried]) -> dict[str, list[str]]:
    """What went wrong and what stays behind, in sentences, under a heading that says under which handovers."""
    told: dict[tuple[str, str], list[str]] = {}
    for one in tried:
        for mishap in one.mishaps:
            what = "What stays behind" if mishap.kind == "left" else "Where it went wrong"
            text = f"{mishap.stream}, tick {mishap.tick}, at {cell_text(mishap.at)}: {mishap_text(mishap)}"
            told.setdefault((what, printable(text)), []).append(str(one.handover))
    listed: dict[str, list[str]] = {}
    for (what, text), handovers in told.items():
        listed.setdefault(f"{what} (handover {' and '.join(handovers)})", []).append(text)
    return listed


def _tried_document(one: Tried) -> dict[str, Any]:
    return {
        "handover": one.handover,
        "verdict": one.word,
        "tick": one.result.tick,
        "streams": [
            {"name": s.name, "delivered": list(s.delivered), "spread": s.spread, "held": s.held}
            for s in one.result.streams
        ],
        "mishaps": explanation_document(one.mishaps),
    }


def _spec_lines(news: SpecNews, quiet: bool) -> list[RenderableType]:
    lines = proposal_report(news.spec, news.answer, (), quiet=True)
    if quiet:
        return lines
    if news.answer.proposals:
        best = news.answer.proposals[0]
        lines += [proposal_table([best]), "", *layers_side_by_side(best.layout, stdout_width(), news.spec.blocked)]
    else:
        lines.append(f"Scope: {printable('; '.join(news.answer.scope))}; {news.answer.solver}.")
    return lines


def _hall_lines(news: HallNews, quiet: bool) -> list[RenderableType]:
    lines: list[RenderableType] = [*hall_verdict(news.spec, news.answer)]
    if quiet:
        return lines
    if news.answer.proposals:
        best = news.answer.proposals[0]
        plan = layers_side_by_side(best.layout, stdout_width(), news.spec.blocked)
        return [*lines, hall_table([best]), "", *plan]
    return [*lines, *refusal_lines(news.answer)]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
