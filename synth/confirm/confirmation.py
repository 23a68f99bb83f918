"""Every candidate runs in the simulator before anybody sees it: its trials (``synth/confirm/trials``) under each
handover."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from sim.world.layout import Layout
from sim.world.rulebook import Rules, known_handovers
from synth.ask.spec import Spec
from synth.confirm.trials import Terms, TrialRecord, Trials
from synth.schemes.registry import kept_of

PLAIN: Final = Terms()
"""Loads that are there at once, of which nothing may be kept."""
SCREEN: Final = ((1, 1), (2, 1))
"""Loads of the quick screen."""
SCREENED: Final = 4
"""Patterns of the quick screen."""


def terms_of(spec: Spec) -> Terms:
    """What the spec asks of each stream, of the scheme that it is about."""
    return Terms(kept_of(spec), spec.even_for == "stream")


@dataclass(frozen=True, slots=True)
class Confirmation:
    """All trials of one candidate."""

    records: tuple[TrialRecord, ...] = field(default=())

    @property
    def handovers(self) -> tuple[int, ...]:
        """The handovers under which every trial passed."""
        tried = dict.fromkeys(record.handover for record in self.records)
        return tuple(h for h in tried if all(r.passed for r in self.under(h)))

    def under(self, handover: int) -> list[TrialRecord]:
        """The trials under that handover."""
        return [record for record in self.records if record.handover == handover]

    def first_failure(self, handover: int) -> TrialRecord | None:
        """The first trial under that handover that did not pass."""
        return next((record for record in self.under(handover) if not record.passed), None)


def handovers_to_try(rules: Rules) -> tuple[int, ...]:
    """The handover in force first, then the others that worlds are known to use."""
    return tuple(dict.fromkeys((rules.handover, *known_handovers())))


def works_at_all(layout: Layout, rules: Rules, handovers: Sequence[int], terms: Terms = PLAIN) -> bool:
    """A quick screen: the two smallest loads, and some patterns if any are asked, pass under each handover."""
    trials = _trials(layout, rules, terms)
    return all(record.passed for handover in handovers for record in trials.under(handover, SCREEN, SCREENED))


def confirm(layout: Layout, rules: Rules, *, needed: Sequence[int], terms: Terms = PLAIN) -> Confirmation:
    """Run the trials of ``layout``; stops at the first failure under a ``needed`` handover, which decides.

    ``rules`` are the numbers in force without the layout's own overrides of the handover.
    """
    records: list[TrialRecord] = []
    trials = _trials(layout, rules, terms)
    for handover in handovers_to_try(rules):
        for record in trials.under(handover):
            records.append(record)
            if not record.passed:
                if handover in needed:
                    return Confirmation(tuple(records))
                break
    return Confirmation(tuple(records))


def _trials(layout: Layout, rules: Rules, terms: Terms) -> Trials:
    return Trials(layout, rules, {stream.name: terms for stream in layout.streams})
