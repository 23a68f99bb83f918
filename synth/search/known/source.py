"""Known builds as a source of candidates: the cache, the atlas, rows laid by construction; as they are, then other
lengths of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import Final

from sim.world.layout import Layout
from sim.world.rulebook import default_rules
from synth.ask.spec import Spec
from synth.confirm.proposal import Proposal
from synth.model.plots import is_open, volume
from synth.schemes.batched_row import JOINED as BATCHED
from synth.schemes.registry import scheme_of
from synth.search.known.atlas import atlas
from synth.search.known.batched import BatchedRows
from synth.search.known.build import KnownBuild, KnownClaim, Store, at_origin
from synth.search.known.joined import SplitTrees
from synth.search.known.laid import LaidRows
from synth.search.known.matching import fits, placements
from synth.search.known.stretching import stretched
from synth.search.result import Claim
from synth.solving.proofs_rest_on import proofs_digest

BASES_MOST: Final = 12
"""Known builds that are lengthened or shortened for one spec, those that come nearest to its outputs first."""


def shipped() -> tuple[Store, ...]:
    """What every installation knows: the atlas, rows laid by construction, trees of them, and rows behind a gate."""
    return atlas(), LaidRows(), SplitTrees(), BatchedRows()


@dataclass
class KnownBuilds:
    """What is known, for the specs of one run. ``stores``: those asked first come first; ``cache``: where what is found
    is kept (None: nowhere)."""

    stores: Sequence[Store]
    faults: list[str] = field(default_factory=list)

    def candidates(self, spec: Spec) -> Iterator[Layout]:
        """Layouts for the spec, its scheme pinned, the smallest first; none of them is confirmed yet."""
        if len(spec.streams) != 1:
            return
        yield from self._exact(spec)
        yield from self._stretched(spec)

    def claims(self, spec: Spec, needed: Sequence[int]) -> Iterator[Claim]:
        """What was proved of open ground, under the laws in force, and so holds for the spec, its scheme pinned: no
        layout in a box, works it under all of ``needed``."""
        if not _is_plain(spec):
            return
        laws, (stream,) = proofs_digest(spec.rules), spec.streams
        for store in self.stores:
            for one in store.claims(scheme_of(spec).name, stream.enters, spec.outputs):
                if one.laws == laws and set(one.handovers) <= set(needed):
                    w, d, h = one.box
                    for box in ((w, d, h),) if is_open(spec) or w == d else ((w, d, h), (d, w, h)):
                        yield Claim(box, "none exists", 0.0, tuple(needed), one.parts, note=PROVED_BEFORE)

    def builds(self, spec: Spec) -> list[KnownBuild]:
        """The builds of the spec's row, its scheme pinned, whatever its site; none for several streams."""
        if len(spec.streams) != 1:
            return []
        if scheme_of(spec) is BATCHED and not _keeps_time(spec):
            return []
        face = spec.streams[0].enters
        return [one for store in self.stores for one in store.builds(scheme_of(spec).name, face, spec.outputs)]

    def _exact(self, spec: Spec) -> Iterator[Layout]:
        """Builds of so many outputs that fit, none with more cells and more parts than another."""
        fitting = [one for one in self.builds(spec) if fits(one.layout.size, spec.size)]
        sizes = [(volume(one.layout.size), len(one.layout.parts)) for one in fitting]
        for _, build in sorted(zip(sizes, fitting, strict=True), key=lambda pair: pair[0]):
            yield from _placed(build, spec)

    def _stretched(self, spec: Spec) -> Iterator[Layout]:
        """Other builds made longer or shorter, the smallest result first."""
        face, made = spec.streams[0].enters, []
        bases = [one for store in self.stores for one in store.stretchable(scheme_of(spec).name, face)]
        bases = [one for one in bases if one.outputs != spec.outputs]
        for base in sorted(bases, key=lambda one: abs(one.outputs - spec.outputs))[:BASES_MOST]:
            for layout in stretched(base, spec.outputs):
                if fits(layout.size, spec.size):
                    made.append(KnownBuild(at_origin(layout), base.scheme, face, spec.outputs, (), "", ""))
        for build in sorted(made, key=lambda one: (volume(one.layout.size), len(one.layout.parts))):
            yield from _placed(build, spec)


def _placed(build: KnownBuild, spec: Spec) -> Iterator[Layout]:
    """Where it may stand; once only on an open site, where turned or mirrored it is the same build."""
    return islice(placements(build, spec), 1 if is_open(spec) else None)


TIMES: Final = ("period", "gauge_delay", "inverter_delay", "relay_step")
PROVED_BEFORE: Final = "proved before, under the same laws"


def _keeps_time(spec: Spec) -> bool:
    """The gates of known builds, which count by the ticks of the default rulebook, are right for the spec's."""
    laws = default_rules()
    return all(getattr(spec.rules, name) == getattr(laws, name) for name in TIMES)


def _is_plain(spec: Spec) -> bool:
    """What known claims are about: one stream, items of the rulebook's stack."""
    return len(spec.streams) == 1 and spec.stack_of(spec.streams[0].item) == spec.rules.stack


def claims_to_keep(spec: Spec, claims: Sequence[Claim]) -> Iterator[KnownClaim]:
    """Of the claims of a search, its scheme pinned, those that hold for every spec of that row and took solving."""
    limited = any(limit.most is not None for limit in spec.limits.values())
    if not _is_plain(spec) or not is_open(spec) or limited or spec.row != "any" or spec.demands.beyond_trials:
        return
    if spec.demands.throughput is not None:
        return
    laws = proofs_digest(spec.rules)
    for one in claims:
        if one.verdict == "none exists" and one.price is None and one.implied_by is None and one.seconds:
            w, d, h = max(one.box[:2]), min(one.box[:2]), one.box[2]
            face = spec.streams[0].enters
            yield KnownClaim(one.scheme, face, spec.outputs, one.handovers, (w, d, h), one.parts, laws)


def build_to_keep(spec: Spec, proposal: Proposal, how: str) -> KnownBuild | None:
    """The layout as it is kept; None where it is of several streams."""
    if len(spec.streams) != 1:
        return None
    m = proposal.measures
    layout = at_origin(proposal.layout)
    return KnownBuild(
        layout, proposal.scheme, spec.streams[0].enters, spec.outputs, m.handovers, how, proofs_digest(spec.rules)
    )
