"""The whole hall in the simulator: every stream loaded at once, every furnace firing.

The trials of a hall are those of a single row (``synth/confirm/trials``), under each handover that is asked for. Here
each stream has the terms of its own scheme.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from sim.world.layout import Layout
from sim.world.rulebook import Rules
from synth.confirm.trials import Terms, TrialRecord, Trials


def hall_trials(layout: Layout, rules: Rules, handovers: Sequence[int], terms: Mapping[str, Terms],
                stopped: Callable[[], bool] = lambda: False) -> Iterator[TrialRecord]:  # fmt: skip
    """The trials in turn, until ``stopped``. ``terms``: by the name of the stream. Ticks of the longest: about 36
    firings; each costs the nodes of the hall at most."""
    trials = Trials(layout, rules, terms)
    records = (record for handover in handovers for record in trials.under(handover))
    while not stopped() and (record := next(records, None)) is not None:
        yield record
