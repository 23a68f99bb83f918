"""Propose layouts for a spec, or search for the best there is: one scheme after the other, their answers made one.

The schemes that serve the spec have their turns in the order of their promise, each with a share of the time that is
left, by the gauges that it needs; each is to better what those before it have found. Layouts that work under every
known handover come first; only where no scheme has one is the handover in force asked for alone.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sim.errors import InputError
from synth.images import canonical_key
from synth.measures import rank_key
from synth.merging import merged
from synth.plots import Size
from synth.request import Request
from synth.result import Answer, Proposal
from synth.schemes.registry import admissible, no_scheme
from synth.schemes.scheme import Scheme
from synth.scope import needed_handovers
from synth.search import Search
from synth.spec import Spec

Run = Callable[[Search], Answer]


def propose(spec: Spec, request: Request) -> Answer:
    """Ranked layouts for ``spec``, each confirmed in the simulator, and claims on the boxes searched.

    Raises InputError when no scheme serves the spec, and when the request's ledger cannot be read or written, or is
    another question's.
    """
    return _Turns(spec, request, Search.run).answer()


def first_layout(spec: Spec, request: Request) -> Answer:
    """Any confirmed layout, or a proof that the site holds none, or neither in the time given."""
    return _Turns(spec, request, Search.run_first, first_alone=True).answer()


def tighter(spec: Spec, request: Request, given: Proposal | None = None, boxes: Sequence[Size] | None = None) -> Answer:
    """The best layout that there is for ``spec``, by its ranking, as far as it can be shown in the time given.

    ``given``: a layout to be bettered; ``boxes``: where to look (default: every box of the site).
    Raises InputError as ``propose`` does.
    """
    return _Turns(spec, request, lambda search: search.run_exact(boxes), given).answer()


@dataclass
class _Turns:
    """The turns of the schemes. ``first_alone``: the first layout ends it."""

    spec: Spec
    request: Request
    run: Run
    given: Proposal | None = None
    first_alone: bool = False

    def __post_init__(self) -> None:
        self.schemes = admissible(self.spec)
        if not self.schemes:
            raise InputError(no_scheme(self.spec), field="split")
        self.pinned = [(scheme, replace(self.spec, scheme=scheme.name)) for scheme in self.schemes]
        self.began = time.monotonic()
        self.best = [self.given] if self.given else []
        self.answers: list[Answer] = []

    def answer(self) -> Answer:
        """What all of them have come to."""
        wanted = [(scheme, spec, needed_handovers(spec)) for scheme, spec in self.pinned]
        self._round(wanted, fallback=False)
        if not self.best and self.spec.demands.handover != "both":
            alone = (self.spec.rules.handover,)
            self._round([(scheme, spec, alone) for scheme, spec, needed in wanted if needed != alone], fallback=True)
        answer = merged(self.spec, self.answers, [scheme.name for scheme in self.schemes])
        answer.seconds = time.monotonic() - self.began
        del answer.proposals[max(self.request.top, 1) :]
        return answer

    def _round(self, wanted: Sequence[tuple[Scheme, Spec, tuple[int, ...]]], *, fallback: bool) -> None:
        for done, (scheme, spec, handovers) in enumerate(wanted):
            left = self.request.limit_s - (time.monotonic() - self.began)
            if self.answers and (left <= 0 or self.request.stop.is_set() or (self.first_alone and self.best)):
                return
            if len(self.schemes) > 1:
                self.request.told(f"looking for a {scheme.name}")
            weights = [_weight(one, self.spec.outputs) for one, _, _ in wanted[done:]]
            share = replace(
                self.request,
                limit_s=left * weights[0] / sum(weights),
                ledger=None if fallback else self._ledger(scheme),
            )
            answer = self.run(Search(spec, share, handovers, self.best))
            self.answers.append(answer)
            self.best = _ranked([*self.best, *answer.proposals], self.spec)[: self.request.top]

    def _ledger(self, scheme: Scheme) -> Path | None:
        """The file asked for; of schemes after the first one beside it, with the scheme in its name."""
        path = self.request.ledger
        if path is None or scheme is self.schemes[0]:
            return path
        return path.with_name(f"{path.stem}.{scheme.name.replace(' ', '-')}{path.suffix}")


def _weight(scheme: Scheme, outputs: int) -> float:
    """Of the time: the more gauges a scheme needs, the more wiring, and the less is to be hoped for from it."""
    return 1 / scheme.gauges(outputs)


def _ranked(proposals: Sequence[Proposal], spec: Spec) -> list[Proposal]:
    """Each once, the best first."""
    once = {canonical_key(one.layout): one for one in proposals}
    return sorted(once.values(), key=lambda one: rank_key(one.measures, spec.order))
