"""A claim about a box speaks for every place of it, whichever was searched last; a cap's claims for that cap alone."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from synth.ask.spec import Spec
from synth.model.plots import plots, sizes
from synth.read.spec_file import load_spec
from synth.search.exact.descent import Descent
from synth.search.exact.job import Job, Report
from synth.search.request import Request

BOX = (5, 2, 4)


class FakeEngine:
    """Settles every cube of some places and leaves those of the others open."""

    def __init__(self, settled: set[tuple[int, int, int]]) -> None:
        self.settled, self.asked = settled, 0

    def results(self, jobs: Iterable[Job], *_: Any) -> Iterator[Report]:
        for job in jobs:
            self.asked += 1
            done = job.question.origin in self.settled
            yield Report(ruled_out=list(job.cubes)) if done else Report(open=list(job.cubes))


def two_places(repository: Path) -> Spec:
    """A site in which the box has two places that differ."""
    spec = load_spec(repository / "specs" / "three-kilns.toml")
    spec = replace(spec, size=(BOX[0] + 1, BOX[1], BOX[2]), blocked=frozenset({(0, 0, BOX[2] - 1)}))
    assert [plot.origin for plot in plots(spec, BOX)] == [(0, 0, 0), (1, 0, 0)]
    return spec


def descent(spec: Spec, engine: FakeEngine) -> Descent:
    return Descent(
        spec, Request(), (8, 7), engine, lambda _: None, lambda: None, [BOX], time.monotonic() + 3600  # type: ignore[arg-type]
    )


@pytest.mark.parametrize(
    ("settled", "verdict"),
    [
        (set(), "open"),
        ({(0, 0, 0)}, "open"),
        ({(1, 0, 0)}, "open"),
        ({(0, 0, 0), (1, 0, 0)}, "none exists"),
    ],
)
def test_a_box_is_ruled_out_only_at_every_place(
    settled: set[tuple[int, int, int]], verdict: str, repository: Path
) -> None:
    search = descent(two_places(repository), FakeEngine(settled))
    search._round([BOX], search.caps, 10)
    (claim,) = search.claims.values()
    assert (claim.box, claim.parts, claim.verdict) == (BOX, None, verdict)
    assert search.is_ruled_out(BOX) == (verdict == "none exists")


def test_what_is_ruled_out_for_few_parts_is_not_for_more(repository: Path) -> None:
    spec = two_places(repository)
    search = descent(spec, FakeEngine({(0, 0, 0), (1, 0, 0)}))
    few, fewer, more = (search.caps.tightened("parts", most) for most in (30, 29, 31))
    search._round([BOX], few, 10)
    assert search.is_ruled_out(BOX, few)
    assert search.is_ruled_out(BOX, fewer)
    assert not search.is_ruled_out(BOX, more)
    assert not search.is_ruled_out(BOX)
    asked = search.engine.asked  # type: ignore[attr-defined]
    search._round([BOX], fewer, 10)
    assert search.engine.asked == asked  # type: ignore[attr-defined]
    search._round([BOX], more, 10)
    assert search.engine.asked > asked  # type: ignore[attr-defined]


def test_nothing_is_claimed_of_a_box_that_was_not_come_to(repository: Path) -> None:
    search = descent(two_places(repository), FakeEngine(set()))
    search.deadline = time.monotonic() - 1
    assert not search.run()
    assert search.claims == {}


def test_no_box_is_drawn_once_the_time_is_over(repository: Path) -> None:
    """A site of thousands of boxes: the one in hand when the time ends is the last that costs anything."""
    spec = replace(load_spec(repository / "specs" / "three-kilns.toml"), size=(24, 24, 16))

    class Last(FakeEngine):
        def results(self, jobs: Iterable[Job], *_: Any) -> Iterator[Report]:
            for report in super().results(jobs):
                search.deadline = time.monotonic() - 1
                yield report

    boxes = sizes(spec, lambda size: size[0] * size[1] * size[2])
    assert len(boxes) > 1000
    engine: Any = Last(set())
    search = Descent(spec, Request(), (8, 7), engine, lambda _: None, lambda: None, boxes, time.monotonic() + 3600)
    assert not search.run()
    assert engine.asked == 1
    assert len(list(search.boxes.made())) == 1
