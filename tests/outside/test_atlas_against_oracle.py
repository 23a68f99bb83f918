"""Builds that come with splitwright, in the second simulator (tests/oracle): a load of one and of two items a target.

Every build of up to sixteen outputs, under each handover that it is said to work under; rows laid by construction, the
squarest of each length, under the default one.
Source: ../shared/RULEBOOK.md and FORMATS.md, read independently; the two implementations share no code.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Final

import pytest

from oracle import naive
from sim.world.files.layout_json import layout_to_json
from sim.world.rulebook import default_rules
from synth.ask.spec import Face
from synth.schemes.registry import scheme_named, schemes
from synth.search.known.atlas import atlas
from synth.search.known.build import KnownBuild
from synth.search.known.laid import LaidRows

OUTPUTS_MOST: Final = 16
TICKS_MOST: Final = 4_000


ROWS: Final = [(scheme, face) for scheme in schemes() for face in ("top", "side")]


@pytest.mark.parametrize(("scheme", "face"), ROWS)
def test_the_second_simulator_splits_evenly_too(scheme: str, face: Face) -> None:
    for build in atlas().stretchable(scheme, face):
        if build.outputs <= OUTPUTS_MOST:
            check(build)


@pytest.mark.parametrize(("scheme", "face"), ROWS)
def test_rows_laid_by_construction(scheme: str, face: Face) -> None:
    for outputs in range(2, OUTPUTS_MOST + 1):
        if shapes := LaidRows().builds(scheme, face, outputs):
            squarest = min(shapes, key=lambda one: abs(one.layout.size[0] - one.layout.size[1]))
            check(replace(squarest, handovers=(default_rules().handover,)))


def check(build: KnownBuild) -> None:
    """What the oracle makes of a build: at rest, even, no finding, no more kept than its scheme may keep."""
    layout, held = layout_to_json(build.layout), scheme_named(build.scheme).held(build.outputs, default_rules(), 64)
    waiting = held // build.outputs
    for handover, each in product(build.handovers, (1, 2) if waiting < 2 else (1, 4 + waiting)):
        given = each * build.outputs
        result = naive.run(layout, loads={"feed": given}, handover=handover, max_ticks=TICKS_MOST)
        (stream,) = result["streams"]
        assert result["at_rest"], build.how
        assert stream["spread"] == 0, build.how
        assert given - sum(stream["delivered"]) <= held, build.how
        assert not result["findings"], build.how


def test_there_is_something_to_run() -> None:
    assert len([row for row in ROWS if atlas().stretchable(*row)]) >= 8
