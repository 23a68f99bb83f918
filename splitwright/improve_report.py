"""The answer of ``improve``: as a document, and for people."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from rich.console import RenderableType

from sim.files.layout_json import layout_to_json
from sim.files.picture import layers_side_by_side
from sim.files.places import counted, printable
from sim.geometry import cell_text
from sim.world import Finding
from splitwright.findings import findings_table
from splitwright.output import stdout_width
from splitwright.tables import plain_table
from synth.improve.result import Attempt, Checked, Improvement
from synth.improve.words import in_order, sentence
from synth.trials import TrialRecord

FORMAT: Final = "splitwright-improvement/1"


def improvement_document(answer: Improvement) -> dict[str, Any]:
    """``splitwright-improvement/1``."""
    return {
        "format": FORMAT,
        "status": answer.status,
        "proved": answer.proved or answer.status == "none exists",
        "cost": answer.cost if answer.status in ("found", "passes") else None,
        "most": answer.most,
        "impossible": answer.impossible,
        "singles": answer.singles,
        "scheme": answer.scheme or None,
        "moved": list(answer.moved),
        "changes": [
            {
                "action": change.action,
                "at": list(change.at),
                "kind": change.kind,
                "text": sentence(change, answer.layout, answer.names),
            }
            for change in in_order(answer.changes)
            if answer.layout is not None
        ],
        "before": _checked_document(answer.before),
        "after": _checked_document(answer.after) if answer.after else None,
        "layout": layout_to_json(answer.layout) if answer.layout else None,
        "attempts": [_attempt_document(one) for one in answer.attempts],
        "scope": answer.scope,
        "seconds": round(answer.seconds, 3),
    }


def _attempt_document(one: Attempt) -> dict[str, Any]:
    return {
        "scheme": one.scheme,
        "room": one.room,
        "none_below": one.least,
        "settled": one.settled,
        "candidates": one.admitted,
        "refused": one.refused,
        "seconds": round(one.seconds, 3),
    }


def _checked_document(found: Checked) -> dict[str, Any]:
    return {
        "findings": [_finding_document(one) for one in found.findings],
        "trials": [_trial_document(one) for one in found.trials],
        "handovers": list(found.handovers),
    }


def _finding_document(one: Finding) -> dict[str, Any]:
    return {"check": one.check, "at": None if one.at is None else list(one.at), "text": one.text}


def _trial_document(one: TrialRecord) -> dict[str, Any]:
    return {
        "handover": one.handover,
        "items_per_target": None if one.pattern else one.per_target,
        "times": one.times,
        "pattern": one.pattern or None,
        "passed": one.passed,
        "at_rest": one.result.at_rest,
        "delivered": {stream.name: list(stream.delivered) for stream in one.result.streams},
        "held": {stream.name: stream.held for stream in one.result.streams},
        "findings": [_finding_document(finding) for finding in one.result.findings],
    }


def improve_report(answer: Improvement, file: str, files: Sequence[str], quiet: bool) -> list[RenderableType]:
    """Everything that is printed, in order; ``quiet``: the verdict and the list alone."""
    lines: list[RenderableType] = [f"{file}: {_verdict(answer)}"]
    if answer.layout is not None:
        told = (sentence(change, answer.layout, answer.names) for change in in_order(answer.changes))
        lines += [f"  {number}. {text}" for number, text in enumerate(told, 1)]
    if any(answer.moved):
        east, north = answer.moved
        lines.append(f"  Cells count from the larger site: all that stood lies {east} farther E and {north} farther N.")
    if not quiet:
        lines += _details(answer)
    if files:
        lines += ["", "Written: " + ", ".join(map(printable, files))]
    return lines


def _verdict(answer: Improvement) -> str:
    if answer.status == "passes":
        passes = f"it passes as {_with_article(answer.scheme)} under handover {_handovers(answer.before)}"
        return f"No change is needed; {passes}."
    if answer.status == "found":
        count = counted(len(answer.changes), "change")
        cost = "" if answer.cost == len(answer.changes) else f" at a cost of {answer.cost}"
        least = "none cheaper exists (proved, within the scope below)" if answer.proved else _at_least(answer)
        return f"{count}{cost} and it passes as {_with_article(answer.scheme)}; {least}."
    if answer.status == "none exists":
        which = "" if answer.impossible else f" that costs {answer.most} or less"
        return f"no list of changes{which} makes it pass (proved, within the scope below)."
    known = min((one.least for one in answer.attempts), default=0)
    below = f"; none that costs less than {known} does (proved)" if known > 1 else ""
    return f"no list of changes was found within the limit{below}; that is no proof that none exists."


def _at_least(answer: Improvement) -> str:
    least = min((one.least for one in answer.attempts), default=0)
    return "whether a cheaper one exists is open" + (f"; it would cost {least} or more" if least > 1 else "")


def _handovers(found: Checked) -> str:
    return " and ".join(map(str, found.handovers)) or "none"


def _details(answer: Improvement) -> Iterator[RenderableType]:
    if answer.status != "passes":
        yield ""
        yield from _before(answer.before)
    if answer.status == "found" and answer.after is not None and answer.layout is not None:
        passed = counted(sum(one.passed for one in answer.after.trials), "trial")
        yield f"After: no findings; {passed} passed, all under handover {_handovers(answer.after)}."
        yield ""
        yield from layers_side_by_side(answer.layout, stdout_width())
    if answer.attempts:
        yield ""
        yield _attempts_table(answer.attempts)
    if answer.scope:
        yield ""
        yield f"Scope: {printable('; '.join(answer.scope))}."
    yield f"{answer.seconds:.1f} s"


def _before(found: Checked) -> Iterator[RenderableType]:
    if found.findings:
        yield "Before: the design checks find"
        yield findings_table(found.findings)
    for one in found.failed:
        yield f"Before: {_failure(one)}"


def _failure(one: TrialRecord) -> str:
    load = f"items that trickle in ({one.pattern})" if one.pattern else f"{counted(one.per_target, 'item')} a target"
    times = f", {one.times} times over" if one.times > 1 else ""
    shares = "; ".join(
        f"{printable(s.name)} {'/'.join(map(str, s.delivered))}" + (f", {s.held} left in nodes" if s.held else "")
        for s in one.result.streams
    )
    faults = "".join(f"; {_finding_text(finding)}" for finding in one.result.findings)
    rest = "" if one.result.at_rest else "; it does not come to rest"
    return f"with {load}{times} (handover {one.handover}) it delivers {shares}{rest}{faults}"


def _finding_text(one: Finding) -> str:
    return printable(f"{one.check} at {cell_text(one.at)}" if one.at else one.check)


def _attempts_table(attempts: Sequence[Attempt]) -> RenderableType:
    table = plain_table("scheme", "room", "no list below", "candidates", "refused", "seconds",
                        right=("room", "no list below", "candidates", "refused", "seconds"))  # fmt: skip
    for one in attempts:
        figures = (one.room, one.least, one.admitted, one.refused)
        table.add_row(one.scheme, *map(str, figures), f"{one.seconds:.1f}")
    return table


def _with_article(name: str) -> str:
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"
