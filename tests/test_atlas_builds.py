"""What stands in specs/atlas is as it says: confirmed anew in the simulator, a sample of it."""

from dataclasses import replace
from itertools import groupby
from pathlib import Path

import pytest

from synth.ask.spec import Face, Spec, StreamSpec
from synth.confirm.judge import Judge
from synth.confirm.membership import is_admitted
from synth.model.plots import Size, windows
from synth.read.spec_file import load_spec
from synth.schemes.registry import scheme_named, schemes
from synth.search.known.atlas import Atlas
from synth.search.known.build import KnownBuild
from synth.search.known.stretching import outputs_of

SPECS = Path(__file__).parent.parent / "specs"
FACES: tuple[Face, ...] = ("top", "side")
SHORT = 6
"""Outputs up to which one build of each length is run."""


def spec_of(scheme: str, face: Face, outputs: int, size: Size) -> Spec:
    """A row of clay from the top, or of charcoal from the side."""
    plain, kind = load_spec(SPECS / "results" / "any-site.toml"), scheme_named(scheme)
    stream = StreamSpec("feed", "clay" if face == "top" else "charcoal", face)
    return replace(
        plain, outputs=outputs, scheme=scheme, size=size, even_for=kind.even_for[-1], leftovers=kind.leaves,
        streams=(stream,),
    )  # fmt: skip


def _every() -> list[KnownBuild]:
    atlas = Atlas(SPECS / "atlas")
    found = [one for scheme in schemes() for face in FACES for one in atlas.stretchable(scheme, face)]
    assert not atlas.faults
    return found


def _sample() -> list[KnownBuild]:
    """The first build of each short length of each scheme and face, and the longest (no stream: many trials)."""
    found = []
    for _, rows in groupby(_every(), lambda one: (one.scheme, one.face)):
        family = list(rows)
        short = {one.outputs: one for one in reversed(family) if one.outputs <= SHORT}
        found += short.values()
        if scheme_named(family[0].scheme).even_for == ("burst",):
            found.append(max(family, key=lambda one: one.outputs))
    return found


@pytest.mark.parametrize("build", _sample(), ids=lambda one: f"{one.scheme} {one.face} {one.outputs}")
def test_a_build_of_the_atlas_passes_every_trial(build: KnownBuild) -> None:
    judge = Judge(spec_of(build.scheme, build.face, build.outputs, build.layout.size), build.handovers)
    assert judge.accepts(build.layout)


def test_every_entry_is_a_row() -> None:
    for build in _every():
        assert build.layout.streams[0].outputs == outputs_of(build.layout)
    smallest = {(one.scheme, one.face, one.outputs) for one in _every()}
    assert {("burst row", "top", outputs) for outputs in range(2, 9)} <= smallest


@pytest.mark.parametrize(
    "build",
    [one for one in _every() if (one.scheme, one.outputs) == ("burst row", 2)],
    ids=lambda one: f"{one.face}, {one.how}",
)
def test_no_other_row_stands_as_a_burst_row(build: KnownBuild) -> None:
    """A muster row passes the trials of a burst row; as one, it would better the smallest that is proved of those."""

    def admits(scheme: str) -> bool:
        spec = spec_of(scheme, build.face, build.outputs, build.layout.size)
        return is_admitted(build.layout, spec, windows(spec, build.handovers))

    others = [one.name for one in schemes().values() if one.outputs_least <= build.outputs]
    assert admits(build.scheme) or not any(map(admits, others))
