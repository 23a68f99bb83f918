"""A look at a layout: design checks, the default trial under each handover, where it went wrong, what has changed."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Literal

from sim.analysis.idle_wiring import builders_findings
from sim.analysis.mishap import Mishap, mishaps
from sim.errors import InputError
from sim.world.files.places import printable
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.recording import record
from sim.world.rulebook import default_rules
from sim.world.trial import Outcome, Trial, TrialResult, arrivals_for
from sim.world.world import Finding, World
from splitwright.cli.interrupt import Interrupted
from splitwright.commands.watch.changes import Change, changes
from synth.confirm.confirmation import handovers_to_try

LIMIT_TICKS: Final = 1_000_000
"""Ticks after which a trial that neither rests nor repeats is given up."""

Word = Literal["even", "uneven", "nothing delivered", "never at rest", "nothing to judge", "no answer"]
WORDS: Final[Mapping[Outcome, Word]] = {
    "even": "even",
    "uneven": "uneven",
    "nothing": "nothing delivered",
    "unfinished": "never at rest",
}
"""How the outcome of a run that was not given up is said."""


@dataclass(frozen=True, slots=True)
class Tried:
    """The default trial under one handover, and where its split went wrong, or where items stay behind."""

    handover: int
    result: TrialResult
    mishaps: tuple[Mishap, ...]

    @property
    def word(self) -> Word:
        """What it came to."""
        result = self.result
        if result.stopped:
            return "no answer"
        if not result.streams:
            return "nothing to judge"
        return WORDS[result.outcome]


@dataclass(frozen=True, slots=True)
class LayoutNews:
    """What one look at a layout came to. ``changes``: since the last layout that was told of (None: none yet).

    ``findings``: those of the design checks, then those of the trials that they do not tell, each once.
    """

    layout: Layout
    tried: tuple[Tried, ...]
    findings: tuple[Finding, ...]
    changes: tuple[Change, ...] | None

    @property
    def is_even(self) -> bool | None:
        """Even under every handover; None: nothing to judge, or no answer."""
        words = {one.word for one in self.tried}
        if words == {"even"}:
            return True
        return None if words <= {"even", "nothing to judge", "no answer"} else False


class LayoutLook:
    """Looks at the layout at ``path``, one after the other.

    A look whose event was set, even after it had ended, is told to nobody (``following.follow``): what it found changed
    is told by the next one.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._last: _Looked | None = None

    def __call__(self, stop: threading.Event) -> LayoutNews:
        """One look. Raises InputError for a fault of the file, Interrupted when ``stop`` is set."""
        layout = load_layout(self.path)
        before = self._told()
        changed = None if before is None else tuple(changes(before, layout))
        try:
            tried = tuple(_tried(layout, stop))
        except InputError as error:
            raise error.within(printable(str(self.path))) from None
        self._last = _Looked(layout, before, stop)
        return LayoutNews(layout, tried, tuple(_once(builders_findings(layout), tried)), changed)

    def _told(self) -> Layout | None:
        """The last layout that was told of."""
        if self._last is None:
            return None
        return self._last.before if self._last.stop.is_set() else self._last.layout


@dataclass(frozen=True, slots=True)
class _Looked:
    """A look that came to something. ``before``: the layout told of before it; ``stop``: set if it is not told."""

    layout: Layout
    before: Layout | None
    stop: threading.Event


def _tried(layout: Layout, stop: threading.Event) -> Iterator[Tried]:
    def heed(_: World) -> None:
        if stop.is_set():
            raise Interrupted

    for handover in handovers_to_try(layout.rules_in_force(default_rules())):
        under = replace(layout, rules={**layout.rules, "handover": handover})
        result = Trial(under, watchers=(heed,)).run(arrivals_for(under), limit=LIMIT_TICKS)
        one = Tried(handover, result, ())
        left = any(stream.held > stream.held_at_start for stream in result.streams)
        is_well = one.word == "no answer" or (one.word == "even" and not left)
        yield one if is_well else replace(one, mishaps=_went_wrong(under, stop))


def _went_wrong(layout: Layout, stop: threading.Event) -> tuple[Mishap, ...]:
    """Run again and written down, which costs more: only where something went wrong."""
    if stop.is_set():
        raise Interrupted
    return mishaps(record(layout, limit=LIMIT_TICKS))


def _once(designed: Sequence[Finding], tried: Sequence[Tried]) -> Iterator[Finding]:
    told = {(finding.check, finding.at) for finding in designed}
    yield from designed
    for finding in (finding for one in tried for finding in one.result.findings):
        if (finding.check, finding.at) not in told:
            told.add((finding.check, finding.at))
            yield finding
