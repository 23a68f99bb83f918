"""What to do next after a trial: which load would come out, which handover would be even, which command tells more."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from sim.errors import InputError
from sim.world.files.places import printable
from sim.world.rulebook import default_rules, known_handovers
from sim.world.trial import DEFAULT_LOAD_PER_TARGET, Arrival, TrialResult, run_trial
from splitwright.cli.trial_input import Task
from splitwright.cli.trial_report import as_even_as_can_be, is_left_wanting

TICKS_MOST: Final = 20_000
"""Longest run that is tried again with something else: that takes a moment only."""


@dataclass(frozen=True, slots=True)
class NextSteps:
    """``lines``: sentences. ``waits``: nothing is wrong, the load is only too small, so that no fault need be told."""

    lines: tuple[str, ...] = ()
    waits: bool = False


def next_steps(task: Task, result: TrialResult, path: Path, ticks: int | None) -> NextSteps:
    """What to do next; nothing where there is nothing to be done. ``path``: the layout's file."""
    file = printable(str(path))
    if result.stopped or result.is_cut_short or not result.streams:
        return NextSteps()
    if result.outcome == "even":
        return NextSteps((f"When else it stays even: splitwright assure {file}",))
    if is_left_wanting(result):
        if (more := _larger_load(task, result)) is not None:
            return NextSteps((more,), waits=True)
        return NextSteps((f"What may be wrong: splitwright check {file}; what to change: splitwright improve {file}",))
    if as_even_as_can_be(result):
        return NextSteps((f"No layout shares that number out more evenly. When it is even: splitwright assure {file}",))
    more_lines = _other_handover(task) if result.tick <= TICKS_MOST and ticks is None else ()
    do = f"What to change: splitwright improve {file}; when it is even: splitwright assure {file}"
    return NextSteps((*more_lines, do))


def _larger_load(task: Task, result: TrialResult) -> str | None:
    """The first load of which something comes out of each stream, where all came at once and it waits in nodes; None
    where none up to the default load does."""
    short = {one.name: one.given for one in result.streams if one.is_starved}
    if task.case is not None or result.tick > TICKS_MOST or any(one.tick for one in task.arrivals):
        return None
    given = {one.stream: one.count for one in task.arrivals}
    if any(count == 0 for name, count in given.items() if name in short):
        return None  # what it starts with waits, not what is put in
    most = DEFAULT_LOAD_PER_TARGET * max(len(one.outputs) for one in task.layout.streams if one.name in short)

    def came(more: int) -> TrialResult | None:
        return _came(task, {name: count + (more if name in short else 0) for name, count in given.items()})

    waits, comes = 0, 1
    while (found := came(comes)) is None:
        waits, comes = comes, comes * 2
        if comes > most:
            return None
    while comes - waits > 1:
        middle = (waits + comes) // 2
        tried = came(middle)
        if tried is None:
            waits = middle
        else:
            comes, found = middle, tried
    wanted = " and ".join(f"{given[name] + comes} of {printable(name)}" for name in short)
    shares = ", ".join(" / ".join(map(str, one.delivered)) for one in found.streams if one.name in short)
    return f"It wants more: put in {wanted} and the first come out ({shares}; with one less, all of it waits)."


def _came(task: Task, loads: dict[str, int]) -> TrialResult | None:
    """What other loads come to, all there at once; None where something of some stream does not come out."""
    arrivals = [Arrival(0, name, count) for name, count in loads.items()]
    try:
        result = run_trial(task.layout, arrivals, limit=TICKS_MOST, order=task.order)
    except InputError:  # a source has no room for it
        return None
    return result if result.at_rest and result.outcome != "nothing" else None


def _other_handover(task: Task) -> Iterator[str]:
    """Where the same load is even under another handover, that is what stands in the way."""
    mine = task.layout.rules_in_force(default_rules()).handover
    for other in known_handovers():
        if other == mine:
            continue
        layout = replace(task.layout, rules={**task.layout.rules, "handover": other})
        try:
            result = run_trial(layout, task.arrivals, limit=TICKS_MOST, order=task.order)
        except InputError:
            continue
        if result.outcome == "even":
            yield (
                f"The handover is what stands in the way: at handover {other} this load is even, at {mine} it is not. "
                "Which one your world has: splitwright probe"
            )
