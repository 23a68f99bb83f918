"""What to do next where nothing was found: a site that would do, another reading of the spec, more time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from synth.judge import Judge
from synth.known.build import KnownBuild
from synth.known.matching import fits, placements
from synth.known.source import KnownBuilds
from synth.plots import Size, volume
from synth.request import Request
from synth.result import Answer
from synth.schemes.registry import admissible
from synth.scope import required_handovers
from synth.spec import Spec, StreamSpec

TRIED_MOST: Final = 6
"""Known builds that are run before something is said of one."""
SITE_MOST: Final = 64
"""Longest side of a site (the published schema of specs)."""


def advice(spec: Spec, answer: Answer, request: Request, impossible: str | None) -> list[str]:
    """Sentences, the most promising first. ``impossible``: why counting alone rules out every layout (None: it does
    not)."""
    return list(_advice(spec, answer, KnownBuilds(request.stores), request.limit_s, impossible))


def _advice(
    spec: Spec, answer: Answer, known: KnownBuilds, limit_s: float, impossible: str | None
) -> Iterator[str]:
    ruled_out = impossible is not None or answer.rules_out(spec.size, required_handovers(spec))
    if impossible is not None:
        yield f"Counting alone shows it: {impossible}."
    build = nearest(spec, known)
    if build is not None:
        parts, grown = len(build.layout.parts), site_for(spec.size, build.layout.size)
        holds = f"a site of {_text(grown)} holds it"
        if grown == spec.size:
            holds = "the site holds it but for its blocked cells, its pins and the limits on parts"
        yield (
            f"The smallest known build for {spec.outputs} furnaces takes {_text(build.layout.size)} ({build.scheme}, "
            f"{parts} parts); {holds}."
        )
    held = replace(spec, leftovers="hold", scheme=None)
    if spec.leftovers == "deliver" and (other := fitting(held, known)) is not None:
        yield (
            f'With leftovers = "hold" the site as it is has room for a known build: {_text(other.layout.size)} '
            f"({other.scheme}, {len(other.layout.parts)} parts)."
        )
    if not ruled_out:
        yield f"More time may find one: --time-limit {max(60, round(limit_s * 4))}."


def nearest(spec: Spec, known: KnownBuilds) -> KnownBuild | None:
    """The known build of the schemes that serve the spec, confirmed under its rules on open ground, whose site is the
    least growth of the spec's."""
    builds = [(build, one) for one in _pinned(spec) for build in known.builds(one)]
    builds.sort(key=lambda pair: volume(site_for(spec.size, pair[0].layout.size)))
    anywhere = (SITE_MOST, SITE_MOST, SITE_MOST)
    tried = (
        (build, replace(one, size=anywhere, blocked=frozenset(), limits={}, streams=_unpinned(one)))
        for build, one in builds[:TRIED_MOST]
    )
    return next((build for build, one in tried if _is_confirmed(build, one)), None)


def confirmed_anywhere(spec: Spec, known: KnownBuilds) -> Size | None:
    """The box, the longer side first, of the smallest known or lengthened build that is confirmed for the spec on open
    ground of any size; None: there is none."""
    found: list[Size] = []
    for one in _pinned(replace(spec, size=(SITE_MOST, SITE_MOST, SITE_MOST), blocked=frozenset())):
        judge = Judge(one, required_handovers(one))
        layout = next((layout for layout in known.candidates(one) if judge.accepts(layout)), None)
        if layout is not None:
            w, d, h = layout.size
            found.append((max(w, d), min(w, d), h))
    return min(found, key=volume, default=None)


def fitting(spec: Spec, known: KnownBuilds) -> KnownBuild | None:
    """The smallest known build that is confirmed in the spec's site as it is."""
    builds = [(build, one) for one in _pinned(spec) for build in known.builds(one) if fits(build.layout.size, spec)]
    builds.sort(key=lambda pair: volume(pair[0].layout.size))
    return next((build for build, one in builds[:TRIED_MOST] if _is_confirmed(build, one)), None)


def _is_confirmed(build: KnownBuild, spec: Spec) -> bool:
    judge = Judge(spec, required_handovers(spec))
    return any(judge.accepts(layout) for layout in placements(build, spec))


def _unpinned(spec: Spec) -> tuple[StreamSpec, ...]:
    return tuple(replace(stream, source=None, outputs_at=()) for stream in spec.streams)


def site_for(site: Size, box: Size) -> Size:
    """The site grown so that it holds the box, turned the way that takes less."""
    ways = [(max(site[0], w), max(site[1], d), max(site[2], box[2])) for w, d in (box[:2], box[1::-1])]
    return min(ways, key=volume)


def _pinned(spec: Spec) -> Iterator[Spec]:
    return (replace(spec, scheme=scheme.name) for scheme in admissible(spec))


def _text(size: Size) -> str:
    return " x ".join(map(str, size))
