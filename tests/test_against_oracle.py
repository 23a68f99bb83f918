"""The simulator against a second, naive reading of the rulebook (tests/oracle), state by state on random builds.

Source: ../shared/RULEBOOK.md and FORMATS.md, read independently; the two implementations share no code.
"""

from __future__ import annotations

import os
import random
import re
from collections.abc import Iterator
from itertools import zip_longest

import pytest

from oracle import naive
from oracle.naive import Document
from oracle.random_builds import random_case, random_layout
from sim.errors import InputError
from sim.world.trial import Arrival, Trial, arrivals_for
from sim.world.trial_json import trial_document
from sim.world.world import World
from worlds import built

BUILDS = int(os.environ.get("SPLITWRIGHT_ORACLE_BUILDS", "160"))
"""Random builds compared; raise it for a longer run."""
GROUPS = 8
TICKS = (40, 90, 250)
"""Ticks after which a build that is not at rest is left."""


def _cases(group: int) -> Iterator[tuple[str, Document, Document, int]]:
    """Name, layout, arguments of a trial and ticks, of every build of a group."""
    for seed in range(group, BUILDS, GROUPS):
        rng = random.Random(seed)
        layout = random_layout(rng)
        yield f"seed {seed}", layout, random_case(rng, layout), rng.choice(TICKS)


def _ours(document: Document, case: Document, *, skip: bool) -> tuple[Trial, list[Arrival]]:
    """The same trial for the simulator: it and its arrivals."""
    layout = built(document, case)
    trial = Trial(layout, order=case["order"], skip=skip)
    return trial, arrivals_for(layout, case["loads"], case["every"])


def _trace_of(trial: Trial) -> list[tuple[Document, Document, list[str]]]:
    """A list that contents, signals and locked nodes are added to at tick 0 and after every tick of the trial."""
    trace = []

    def watch(_: World) -> None:
        now = trial_document(trial.result())
        trace.append((now["contents"], now["signals"], now["locked"]))

    trial.watchers = [watch]
    return trace


def _without_texts(findings: list[Document]) -> list[Document]:
    """Check, cell and tick: how a finding is worded is each one's own."""
    facts = [{key: value for key, value in finding.items() if key != "text"} for finding in findings]
    return sorted(facts, key=lambda finding: (finding["tick"], finding["check"], finding.get("at", [])))


@pytest.mark.parametrize("group", range(GROUPS))
def test_every_tick_of_random_builds_is_the_same(group: int) -> None:
    """Contents, signals and locks of every tick, then the whole document of the trial, its tick and findings too."""
    for name, layout, case, ticks in _cases(group):
        trial, arrivals = _ours(layout, case, skip=False)
        trace = _trace_of(trial)
        try:
            theirs = naive.run(layout, **case, max_ticks=ticks, trace=True)
        except ValueError:
            with pytest.raises(InputError):
                trial.run(arrivals, ticks=ticks)
            continue
        expected = theirs.pop("trace")
        ours = trial_document(trial.run(arrivals, ticks=None if theirs["at_rest"] else ticks, limit=ticks))
        for tick, (state, other) in enumerate(zip_longest(trace, expected)):
            assert state == other, f"{name}, tick {tick}"
        for document in (ours, theirs):
            document["findings"] = _without_texts(document["findings"])
        assert ours == theirs, name


@pytest.mark.parametrize("group", range(GROUPS))
def test_skipping_quiet_ticks_changes_nothing(group: int) -> None:
    for name, layout, case, ticks in _cases(group):
        (plain, arrivals), (skipping, _) = _ours(layout, case, skip=False), _ours(layout, case, skip=True)
        try:
            expected = plain.run(arrivals, ticks=ticks * 4)
        except InputError as refused:
            with pytest.raises(InputError, match=re.escape(refused.fault)):
                skipping.run(arrivals, ticks=ticks * 4)
            continue
        assert expected == skipping.run(arrivals, ticks=ticks * 4), name
