"""The answer of ``improve``: as a document, and for people."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from rich.console import RenderableType

from sim.world.files.layout_json import layout_to_json
from sim.world.files.picture import layers_side_by_side
from sim.world.files.places import all_of, counted, printable
from sim.world.geometry import cell_text
from sim.world.layout import Layout
from sim.world.rulebook import default_rules
from sim.world.trial import StreamResult
from sim.world.world import Finding
from splitwright.cli.findings import findings_table
from splitwright.cli.output import stdout_width, written
from splitwright.cli.tables import plain_table
from synth.confirm.loads import loads_text
from synth.confirm.measures import loads_of
from synth.confirm.trials import TrialRecord
from synth.improve.result import Attempt, Checked, Improvement
from synth.improve.scope import cells, kinds
from synth.improve.spaces import with_room
from synth.improve.words import in_order, sentence
from synth.schemes.registry import scheme_named

TOLD_MOST: Final = 30
"""Changes that are told one by one."""
FORMAT: Final = "splitwright-improvement/1"


def improvement_document(answer: Improvement) -> dict[str, Any]:
    """``splitwright-improvement/1``."""
    return {
        "format": FORMAT,
        "status": answer.status,
        "proved": answer.proved or answer.status == "none exists",
        "room": answer.room,
        "cost": answer.cost if answer.status in ("found", "passes") else None,
        "most": answer.most,
        "impossible": answer.impossible,
        "singles": answer.singles,
        "scheme": answer.scheme or None,
        "schemes": list(answer.schemes),
        "rows": list(answer.rows),
        "output": None if answer.output is None else float(round(answer.output, 1)),
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


def improve_report(
    answer: Improvement, file: str, files: Sequence[str], quiet: bool, verbose: bool = False
) -> list[RenderableType]:
    """Everything that is printed, in order; ``quiet``: the verdict and the list alone; ``verbose``: what was searched,
    and what proofs are about, too."""
    lines: list[RenderableType] = [f"{file}: {_verdict(answer)}"]
    if answer.layout is not None:
        told = [sentence(change, answer.layout, answer.names) for change in in_order(answer.changes)]
        lines += [f"  {number}. {text}" for number, text in enumerate(told[:TOLD_MOST], 1)]
        lines += _untold(len(told) - TOLD_MOST, files) if len(told) > TOLD_MOST else []
    if any(answer.moved):
        east, north = answer.moved
        lines.append(f"  Cells count from the larger site: all that stood lies {east} farther E and {north} farther N.")
    if files:
        lines += [written(files)]
    if not quiet:
        lines += [*_next_steps(answer, file, files), *_details(answer, verbose)]
    return lines


def _next_steps(answer: Improvement, file: str, files: Sequence[str]) -> Iterator[str]:
    if answer.status == "passes":
        yield f"When it stays even: splitwright assure {file}"
    elif answer.status == "found":
        yield "" if files else "To keep the changed build: --out FILE.plan"
    else:
        yield from (f"{bound[0].upper()}{bound[1:]}." for bound in _bounds(answer))
        ways = [] if answer.status == "none exists" else ["more time (--time-limit)"]
        ways += [f"more room around it (--room {answer.room + 2})"]
        missing = [one.name for one in answer.build.streams if len(one.outputs) < 2]
        ways += [f"a furnace more for {printable(name)}: one output has nothing to share" for name in missing]
        yield f"What may help: {', or '.join(ways)}; or a new build: splitwright new"
        yield f"Where it goes wrong: splitwright trial {file}, splitwright check {file}"


def _untold(more: int, files: Sequence[str]) -> Iterator[str]:
    """Where the rest of a long list is to be seen."""
    where = f"splitwright sheet {printable(files[0])} draws it all" if files else "--out FILE writes the whole build"
    yield f"  ... and {counted(more, 'change')} more: {where}, --json lists them."


def _kept(answer: Improvement) -> str:
    """What a builder may not expect of a row that passes: that items stay in it."""
    if answer.schemes:
        return ""
    stream, rules = answer.build.streams[0], answer.build.rules_in_force(default_rules())
    item = answer.build.items.get(stream.item)
    stack = (item.stack if item else None) or rules.stack
    most = scheme_named(answer.scheme).held(len(stream.outputs), rules, stack)
    if not most:
        return ""
    return f", which keeps up to {counted(most, 'item')} in its nodes; for one that ends empty ask with --scheme"


def _verdict(answer: Improvement) -> str:
    of_rows = kinds(answer.schemes or filter(None, [answer.scheme]))
    if answer.status == "passes":
        trials = f"it passes the trials of {of_rows} under handover {_handovers(answer.before)}"
        return f"No change is needed; {trials}{_kept(answer)}{_makes(answer)}."
    if answer.status == "found":
        count = counted(len(answer.changes), "change")
        cost = "" if answer.cost == len(answer.changes) else f" at a cost of {answer.cost}"
        known = [_cheapest(answer)] if answer.proof else ["whether a cheaper one exists is open", *_bounds(answer)]
        return f"{count}{cost} and it passes the trials of {of_rows}{_makes(answer)}; {'; '.join(known)}."
    if answer.status == "none exists":
        which = "" if answer.impossible else f" that costs {answer.most} or less"
        return f"no list of changes{which} {_of_model(answer, answer.room)}."
    none = "no list of changes was found within the limit; that is no proof that none exists"
    return f"{none}."


def _makes(answer: Improvement) -> str:
    """What comes out of a hall."""
    if not answer.schemes:
        return ""
    if answer.output is None:
        return ", and collects no product: no line of nodes leads from under a furnace to a bin"
    return f", and makes {float(answer.output):.0f} products an hour"


def _cheapest(answer: Improvement) -> str:
    """Among which lists the one that was found is a cheapest, and what shows it."""
    if answer.proof == "as it stands":
        return "none cheaper exists (proved: it fails as it stands)"
    if answer.proof == "single changes":
        where = _place(answer, answer.room)
        return f"none cheaper exists {where} (proved: all {answer.singles} single changes were tried)"
    return f"none cheaper {_of_model(answer, answer.room)}"


def _bounds(answer: Improvement) -> Iterator[str]:
    """The costs below which no list will do, in each room, unless a larger one has that bound too."""
    schemes = {one.scheme for one in answer.attempts}
    said = 1
    for room in sorted({one.room for one in answer.attempts}, reverse=True):
        known = [max((a.least for a in answer.attempts if (a.scheme, a.room) == (s, room)), default=0) for s in schemes]
        if min(known) > said:
            said = min(known)
            yield f"none that costs less than {said} {_of_model(answer, room)}"


def _of_model(answer: Improvement, room: int) -> str:
    """Of which lists the constraint model has shown that none will do."""
    schemes = kinds(dict.fromkeys(one.scheme for one in answer.attempts))
    where = f"{_place(answer, room)}, with sources and furnaces where they stand"
    return f"makes it pass as {schemes} {where} (proved; scope: -v)"


def _place(answer: Improvement, room: int) -> str:
    box = cells(with_room(answer.build, room).size)
    return f"in {box} (its site, {room} more on each side and above)" if room else f"in its site of {box}"


def _handovers(found: Checked) -> str:
    return " and ".join(map(str, found.handovers)) or "none"


def _details(answer: Improvement, verbose: bool) -> Iterator[RenderableType]:
    if answer.status != "passes":
        yield ""
        yield from _before(answer.before, answer.build)
    if answer.status == "passes":
        yield from _tried(answer.before)
    if answer.status == "found" and answer.after is not None and answer.layout is not None:
        passed = counted(sum(one.passed for one in answer.after.trials), "trial")
        yield f"After: no findings; {passed} passed, all under handover {_handovers(answer.after)}."
        yield from _tried(answer.after)
        yield ""
        yield from layers_side_by_side(answer.layout, stdout_width())
    if answer.rows:
        names = all_of(answer.rows)
        those = f"By themselves {names} do" if len(answer.rows) > 1 else f"By itself {names} does"
        others = "; the other rows do" if len(answer.rows) < len(answer.build.streams) else ""
        yield printable(f"{those} not work{others}.")
    if answer.attempts and verbose:
        yield ""
        yield _attempts_table(answer.attempts)
    if verbose and answer.scope:
        yield ""
        yield f"Scope: {printable('; '.join(answer.scope))}."
    if verbose:
        yield f"{answer.seconds:.1f} s"
    elif answer.scope:
        yield "More: -v (what was searched, what proofs are about), --json (all of it)."


def _tried(found: Checked) -> Iterator[str]:
    """What was put in, in the trials."""
    patterns = len({one.pattern for one in found.trials if one.pattern})
    trickled = f", items one by one in {counted(patterns, 'pattern')}" if patterns else ""
    outputs = max(len(stream.delivered) for one in found.trials for stream in one.result.streams)
    yield f"Tried: {loads_text(loads_of(found.trials))}{trickled} (N = {outputs}); no other load, gap or update order."


def _before(found: Checked, build: Layout) -> Iterator[RenderableType]:
    if found.findings:
        yield "Before: the design checks find"
        yield findings_table(found.findings)
    for one in found.failed:
        yield f"Before: {_failure(one, build)}"


def _failure(one: TrialRecord, build: Layout) -> str:
    load = f"items that trickle in ({one.pattern})" if one.pattern else f"{counted(one.per_target, 'item')} a target"
    times = f", {one.times} times over" if one.times > 1 else ""
    items = {stream.name: stream.item for stream in build.streams}
    each = ((s, "/".join(map(str, s.delivered))) for s in one.result.streams)
    shares = "; ".join(f"{printable(s.name)} {came}{_left(s, items)}" for s, came in each)
    faults = "".join(f"; {_finding_text(finding)}" for finding in one.result.findings)
    rest = "" if one.result.at_rest else "; it does not come to rest"
    return f"with {load}{times} (handover {one.handover}) it delivers {shares}{rest}{faults}"


def _left(stream: StreamResult, items: Mapping[str, str]) -> str:
    """What did not come out. Where streams share a kind, trials tell apart what came out, not what nodes hold."""
    if list(items.values()).count(items[stream.name]) > 1:
        kept = stream.given - sum(stream.delivered)
        return f", {kept} not delivered" if kept > 0 else ""
    return f", {stream.held} left in nodes" if stream.held else ""


def _finding_text(one: Finding) -> str:
    return printable(f"{one.check} at {cell_text(one.at)}" if one.at else one.check)


def _attempts_table(attempts: Sequence[Attempt]) -> RenderableType:
    table = plain_table("scheme", "room", "no list below", "candidates", "refused", "seconds",
                        right=("room", "no list below", "candidates", "refused", "seconds"))  # fmt: skip
    for one in attempts:
        figures = (one.room, one.least, one.admitted, one.refused)
        table.add_row(one.scheme, *map(str, figures), f"{one.seconds:.1f}")
    return table
