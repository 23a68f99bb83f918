"""The simulator against a second, naive reading of the rulebook (tests/oracle), state by state on random builds.

Source: ../shared/RULEBOOK.md and FORMATS.md, read independently; the two implementations share no code.
"""

from __future__ import annotations

import os
import random

import pytest

from oracle.naive import run as oracle_run
from oracle.random_builds import random_layout
from sim.files.layout_json import layout_from_json
from sim.geometry import cell_text
from sim.trial import Trial, arrivals_for
from sim.world import World

BUILDS = int(os.environ.get("SPLITWRIGHT_ORACLE_BUILDS", "160"))
"""Random builds compared; raise it for a longer run."""
GROUPS = 8


def _state(world: World, result) -> tuple[dict, dict, list]:
    contents = {cell_text(c): [None if s is None else list(s) for s in slots] for c, slots in result.contents.items()}
    signals = {cell_text(c): level for c, level in result.signals.items()}
    return contents, signals, sorted(cell_text(c) for c in result.locked)


def _ours(document: dict, loads, every, ticks, order, skip: bool):
    layout = layout_from_json(document)
    trace = []
    trial = None

    def watch(world: World) -> None:
        trace.append((world.tick, *_state(world, trial.result())))

    trial = Trial(layout, order=order, watchers=[watch], skip=skip)
    return trial.run(arrivals_for(layout, loads, every), ticks=ticks), trace


def _case(seed: int):
    rng = random.Random(seed)
    document = random_layout(rng)
    machines = [tuple(p["at"]) for p in document["parts"] if p["kind"] in ("node", "furnace")]
    order = rng.sample(machines, len(machines)) if rng.random() < 0.5 else None
    loads = {s["name"]: rng.randint(0, 20) for s in document.get("streams", ())}
    every = rng.choice([None, None, 1, 3, 8, 10, 21])
    return document, loads, every, rng.choice([40, 90, 250]), order


@pytest.mark.parametrize("group", range(GROUPS))
def test_every_tick_of_random_builds_is_the_same(group: int) -> None:
    for seed in range(group, BUILDS, GROUPS):
        document, loads, every, ticks, order = _case(seed)
        try:
            theirs = oracle_run(document, loads, every=every, ticks=ticks, order=order, trace=True)
        except ValueError:
            continue
        result, trace = _ours(document, loads, every, ticks, order, skip=False)
        assert len(trace) == len(theirs["trace"]) == ticks + 1, seed
        for (tick, contents, signals, locked), other in zip(trace, theirs["trace"], strict=True):
            where = f"seed {seed}, tick {tick}"
            assert contents == {c: [None if s is None else list(s) for s in v] for c, v in other[0].items()}, where
            assert signals == other[1], where
            assert locked == sorted(c if isinstance(c, str) else cell_text(tuple(c)) for c in other[2]), where
        assert result.at_rest == theirs["at_rest"], seed
        assert [list(s.delivered) for s in result.streams] == [s["delivered"] for s in theirs["streams"]], seed
        found = sorted((f.check, list(f.at) if f.at else None, f.tick) for f in result.findings)
        wanted = sorted((f["check"], f.get("at"), f.get("tick")) for f in theirs["findings"])
        assert [f[:2] for f in found] == [f[:2] for f in wanted], seed


@pytest.mark.parametrize("group", range(GROUPS))
def test_skipping_quiet_ticks_changes_nothing(group: int) -> None:
    for seed in range(10_000 + group, 10_000 + BUILDS, GROUPS):
        document, loads, every, ticks, order = _case(seed)
        layout = layout_from_json(document)
        arrivals = arrivals_for(layout, loads, every)
        try:
            plain = Trial(layout, order=order, skip=False).run(arrivals, ticks=ticks * 4)
        except Exception as error:
            with pytest.raises(type(error)):
                Trial(layout, order=order).run(arrivals, ticks=ticks * 4)
            continue
        assert plain == Trial(layout, order=order).run(arrivals, ticks=ticks * 4), seed
