"""Rows laid by construction: every shape in the simulator, what lengths there are, and how they come to a site."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import get_args

import pytest

from sim.analysis.checks import design_findings
from sim.world.rulebook import default_rules
from synth.ask.spec import Face, Spec
from synth.confirm.judge import Judge
from synth.confirm.membership import is_admitted
from synth.model.plots import windows
from synth.search.known.build import KnownBuild
from synth.search.known.laid import FIRST, GATED, L_BEYOND, LaidRows, horseshoe, ring
from synth.search.known.matching import placements
from synth.search.known.source import KnownBuilds
from synth.search.known.stretching import outputs_of, row_of
from test_atlas_builds import spec_of

FACES: tuple[Face, ...] = get_args(Face)
LAID = LaidRows()
SCHEMES = (*FIRST, GATED)
RULES = default_rules()


def on_open_ground(build: KnownBuild) -> Spec:
    """A site with room for the build either way round."""
    side = max(build.layout.size[:2])
    return spec_of(build.scheme, build.face, build.outputs, (side, side, build.layout.size[2]))


def is_accepted(build: KnownBuild) -> bool:
    spec = on_open_ground(build)
    return Judge(spec, (8,)).accepts(next(placements(build, spec)))


@pytest.mark.parametrize(("scheme", "face"), list(product(FIRST, FACES)))
def test_every_length_splits_evenly(scheme: str, face: Face) -> None:
    """The squarest of each length, and the shallowest of some: confirmed as any proposal is."""
    for outputs in (*range(2, 13), 15, 16, 24, 49, 50):
        shapes = LAID.builds(scheme, face, outputs)
        if shapes:
            squarest = min(shapes, key=lambda one: abs(one.layout.size[0] - one.layout.size[1]))
            for build in (shapes[0], squarest, shapes[-1]) if outputs % 8 == 0 else (squarest,):
                assert is_accepted(build), (build.outputs, build.layout.size)


@pytest.mark.parametrize(("face", "outputs"), [("top", 10), ("top", 21), ("side", 13)])
def test_every_horseshoe_splits_evenly_however_the_items_come(face: Face, outputs: int) -> None:
    for build in LAID.builds(GATED, face, outputs):
        assert is_accepted(build), build.layout.size


def test_which_lengths_there_are() -> None:
    """All from the shortest on that bends around the parts at its ends, to where the lock line would be too long."""
    there = {name: {n for n in range(1, 53) if LAID.builds(name, "top", n)} for name in ("burst row", GATED)}
    assert there["burst row"] == set(range(1, 51))
    assert there[GATED] == set(range(10, 22))
    for name, n in product(there, (2, 9, 10, 21, 22, 50, 51)):
        assert bool(LAID.builds(name, "side", n)) is (n in there[name])


@pytest.mark.parametrize(("outputs", "site"), [(8, (6, 6)), (16, (8, 8)), (12, (7, 7)), (24, (10, 10)), (7, (6, 6))])
def test_square_sites_are_answered(outputs: int, site: tuple[int, int]) -> None:
    for face, height in (("top", 4), ("side", 3)):
        spec = spec_of("burst row", face, outputs, (*site, height))
        assert any(Judge(spec, (8,)).accepts(one) for one in KnownBuilds((LAID,)).candidates(spec))


def test_rows_are_as_long_as_they_say_and_no_design_check_finds_fault() -> None:
    for scheme, face, outputs in product(SCHEMES, FACES, (5, 8, 11, 21)):
        for build in LAID.builds(scheme, face, outputs):
            assert len(row_of(build.layout)) >= outputs
            assert outputs_of(build.layout) == build.layout.streams[0].outputs
            spec = on_open_ground(build)
            assert not design_findings(next(placements(build, spec)), spec.rules)


def test_the_model_admits_a_ring_of_eight() -> None:
    """So that it is looked into further, and what a search says of its site is about it too."""
    for build in LAID.builds("burst row", "top", 8):
        spec = spec_of("burst row", "top", 8, build.layout.size)
        assert is_admitted(next(placements(build, spec)), spec, windows(spec, (8,)))


def test_a_relay_stands_where_the_line_would_end_and_nowhere_else() -> None:
    kinds = {n: [part.kind for part in LAID.builds("burst row", "top", n)[0].layout.parts] for n in (16, 28)}
    assert kinds[16].count("relay") == 0
    assert kinds[28].count("relay") in (1, 2)


def test_what_would_be_too_long_is_not_laid() -> None:
    assert ring("burst row", "top", 40, 40) is None
    assert horseshoe("top", 2, RULES.reach - L_BEYOND + 1) is None


def test_a_support_less_and_a_ring_splits_no_more() -> None:
    """The trials would find it: an odd ring without what passes on what its last gauge says."""
    build = next(one for one in LAID.builds("burst row", "top", 7) if one.layout.size == (6, 6, 4))
    parts = tuple(part for part in build.layout.parts if part.at != (1, 1, 2))
    assert len(parts) == len(build.layout.parts) - 1
    assert not is_accepted(replace(build, layout=replace(build.layout, parts=parts)))
