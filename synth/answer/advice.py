"""What to do next where nothing was found: a site that would do, another reading of the spec, more time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import islice
from typing import Final

from sim.world.files.places import box_text, counted
from sim.world.layout import Layout
from sim.world.parts import Container
from synth.ask.spec import Spec
from synth.confirm.built import box_of
from synth.confirm.judge import Judge
from synth.model.plots import Size, is_open, volume
from synth.schemes.registry import admissible, admissible_joined, every_admissible, scheme_of, why_not
from synth.schemes.split_tree import BRANCHES, JOINED, ROWS
from synth.search.known.build import KnownBuild
from synth.search.known.matching import placements
from synth.search.known.source import KnownBuilds
from synth.search.request import Request
from synth.search.result import Answer
from synth.search.scope import required_handovers
from synth.solving.proofs_rest_on import proofs_digest

CANDIDATES_MOST: Final = 40
"""Candidates of a scheme that are looked at."""
TRIED_MOST: Final = 8
"""How many of them are run, the best first, before nothing is said."""
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
    if (build := smallest(spec, known, spec.size)) is not None:
        grown = site_for(spec.size, build.layout.size)
        holds = f"a site of {box_text(grown)} holds it"
        if not is_open(spec):
            holds += ", where nothing is blocked and nothing pinned"
        if any(stream.outputs_at for stream in spec.streams):
            yours = "ruled out" if ruled_out else f"not settled (time limit {limit_s:.0f} s)"
            yield (
                f"Where the kilns may be moved and nothing is in the way, {build} is known; "
                f"with yours where they are: {yours}."
            )
        else:
            yield f"The smallest known build for {spec.outputs} furnaces takes {build}; {holds}."
    held = replace(spec, leftovers="hold", scheme=None)
    if spec.leftovers == "deliver" and (other := _best_of(held, known, volume)) is not None:
        yield f'With leftovers = "hold" the site as it is has room for a known build: {other}.'
        if other.filled and (empty := _best_of(held, known, volume, lambda one: not filled_in(one))) is not None:
            yield f"With nothing to fill in first: {empty}."
    if (others := tree_sizes(spec)) is not None:
        yield others
    if len(spec.streams) > 1:
        yield "Several streams at once are a large question; asked for as a hall ([hall]), rows come from known pieces."
    if not ruled_out and admissible(spec):  # what is put together from known builds is looked through at once
        yield f"More time may find one: --time-limit {max(60, round(limit_s * 4))}."


def tree_sizes(spec: Spec) -> str | None:
    """Of a number that no split tree has: which ones next to it there are; None where that is no matter."""
    every = range(JOINED.outputs_least, max(ROWS) * max(BRANCHES) + 1)
    there = [n for n in every if why_not(JOINED, replace(spec, outputs=n)) is None]
    if admissible_joined(spec) or spec.even_for != "stream" or not there or not there[0] < spec.outputs < there[-1]:
        return None
    below, above = max(n for n in there if n < spec.outputs), min(n for n in there if n > spec.outputs)
    return (
        f"With nothing to fill in first {spec.outputs} furnaces can't be had as a split tree, which has "
        f"{' or '.join(map(str, BRANCHES))} rows of {ROWS[0]} to {ROWS[-1]}; {below} or {above} can."
    )


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A known or lengthened build, confirmed for a spec."""

    layout: Layout
    scheme: str

    @property
    def filled(self) -> int:
        """Items to be filled in first."""
        return filled_in(self.layout)

    def __str__(self) -> str:
        filled = f", {counted(self.filled, 'item')} to fill in first" if self.filled else ""
        return f"{box_text(self.layout.size)} ({self.scheme}, {len(self.layout.parts)} parts{filled})"


def filled_in(layout: Layout) -> int:
    """Items that its containers start with."""
    return sum(slot[1] for part in layout.parts if isinstance(part, Container) for slot in part.holds if slot)


def smallest(spec: Spec, known: KnownBuilds, site: Size = (1, 1, 1)) -> Suggestion | None:
    """The build for the spec's row, confirmed under its rules on open ground, for which ``site`` has to grow least.

    One that was confirmed under the very laws in force is not run again."""
    streams = tuple(replace(stream, source=None, outputs_at=()) for stream in spec.streams)
    anywhere = replace(spec, size=(SITE_MOST,) * 3, blocked=frozenset(), streams=streams)
    pinned = [replace(anywhere, scheme=scheme.name) for scheme in every_admissible(spec)]
    trusted = [build for one in pinned for build in _trusted(one, known)]
    if trusted:
        best = min(trusted, key=lambda one: volume(site_for(site, one.layout.size)))
        return Suggestion(replace(best.layout, size=_around(best.layout)), best.scheme)
    return _best_of(anywhere, known, lambda size: volume(site_for(site, size)))


def _trusted(spec: Spec, known: KnownBuilds) -> Iterator[KnownBuild]:
    needed = set(required_handovers(spec))
    for build in known.builds(spec):
        same_laws = build.laws == proofs_digest(spec.rules) and not spec.demands.beyond_trials
        if same_laws and needed <= set(build.handovers) and next(placements(build, spec), None) is not None:
            yield build


def _best_of(
    spec: Spec, known: KnownBuilds, measure: Callable[[Size], float], will_do: Callable[[Layout], bool] = lambda _: True
) -> Suggestion | None:
    """The confirmed build that is best by ``measure``, of the schemes that serve the spec, and of those that
    ``will_do`` (default: all)."""
    pinned = [replace(spec, scheme=scheme.name) for scheme in every_admissible(spec)]
    found = [(layout, one) for one in pinned for layout in islice(known.candidates(one), CANDIDATES_MOST)]
    found = [pair for pair in found if will_do(pair[0])]
    found.sort(key=lambda pair: measure(_around(pair[0])))
    for layout, one in found[:TRIED_MOST]:
        if Judge(one, required_handovers(one)).accepts(layout):
            return Suggestion(replace(layout, size=_around(layout)), scheme_of(one).name)
    return None


def _around(layout: Layout) -> Size:
    """The box around the parts, the longer side first."""
    w, d, h = box_of(layout)
    return max(w, d), min(w, d), h


def site_for(site: Size, box: Size) -> Size:
    """The site grown so that it holds the box, turned the way that takes less."""
    ways = [(max(site[0], w), max(site[1], d), max(site[2], box[2])) for w, d in (box[:2], box[1::-1])]
    return min(ways, key=volume)
