"""Propose layouts for a spec, or search for the best there is: answered first, proved after.

All sources put what they find on one board, and nothing is shown that the judge has not confirmed. Known builds are
looked through first, which takes no longer than trying them (``known``); then every scheme that serves the spec
searches at the same time (``synth/search/one_scheme``), in one engine, until all is settled or the time is over.

Layouts that work under every known handover are searched for; only where no scheme finds one, or when a good part of
the time has gone by without any layout, is the handover in force asked for alone.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Final

from sim.errors import InputError
from synth.ask.spec import Spec
from synth.confirm.built import box_of
from synth.confirm.judge import Judge
from synth.confirm.measures import rank_key
from synth.confirm.membership import is_admitted
from synth.confirm.proposal import Proposal
from synth.model.plots import Size, sizes, volume, windows
from synth.schemes.registry import admissible, admissible_joined, no_scheme
from synth.schemes.scheme import Scheme
from synth.search.board import Board
from synth.search.exact.bounds import fewest_parts
from synth.search.exact.ledger import Ledger, cached, digest_of, opened
from synth.search.exact.worker import JobEngine, engine_for
from synth.search.known.source import KnownBuilds, build_to_keep, claims_to_keep
from synth.search.merging import merged
from synth.search.one_scheme import Search
from synth.search.request import Request
from synth.search.result import Answer
from synth.search.scope import needed_handovers, required_handovers, scope_of
from synth.solving.cadical import SOLVER
from synth.solving.deadline import Aside

KNOWN_ALONE_S: Final = 1.0
"""Seconds after which the searches begin, whether all known builds have been looked through or not."""
KNOWN_ALONE_SHARE: Final = 0.5
KNOWN_ALONE_MOST_S: Final = 20.0
"""The same as a share of the time, and no more than so long, for rows longer than MEMBERS_MOST: their searches seldom
find anything, and hold up the simulator."""
ALONE_SHARE: Final = 0.4
"""Share of the time after which, with no layout found, the handover in force is asked for alone too."""
MEMBERS_MOST: Final = 8
"""Outputs up to which it is found out whether a known build is one that claims are about (``membership``): of longer
rows hardly anything is ever ruled out, and it takes long."""
POLL_S: Final = 0.05
ENDING_S: Final = 0.3
"""How long searches are waited for that were told to end; one that is in the middle of something goes on to nobody."""

SAVING_S: Final = 5.0
"""The same where it was not the time that ended them."""

Run = Callable[[Search], None]
Lane = tuple[Scheme, tuple[int, ...]]
"""A scheme, and the handovers under which its layouts are to work."""


def propose(spec: Spec, request: Request) -> Answer:
    """Ranked layouts for ``spec``, each confirmed in the simulator, and claims on the boxes searched.

    Raises InputError when no scheme serves the spec, and when the request's ledger cannot be read or written, or is
    another question's.
    """
    return _Race(spec, request, Search.run).answer()


def first_layout(spec: Spec, request: Request) -> Answer:
    """Any confirmed layout, or a proof that the site holds none, or neither in the time given."""
    return _Race(spec, request, Search.run_first, first_alone=True).answer()


def tighter(spec: Spec, request: Request, given: Proposal | None = None, boxes: Sequence[Size] | None = None) -> Answer:
    """The best layout that there is for ``spec``, by its ranking, as far as it can be shown in the time given.

    ``given``: a layout to be bettered; ``boxes``: where to look (default: every box of the site).
    Raises InputError as ``propose`` does.
    """
    if given is not None:
        told, bar = request.found, rank_key(given.measures, spec.order)

        def found(one: Proposal) -> None:
            if rank_key(one.measures, spec.order) < bar:
                told(one)

        request = replace(request, found=found)
    return _Race(spec, request, lambda search: search.run_exact(boxes), given=given).answer()


class _Race:
    """All sources at once. ``first_alone``: the first layout ends it."""

    def __init__(
        self, spec: Spec, request: Request, run: Run, *, given: Proposal | None = None, first_alone: bool = False
    ) -> None:
        self.spec, self.request, self.run, self.first_alone = spec, request, run, first_alone
        self.began = time.monotonic()
        self.until = self.began + request.limit_s
        self.schemes, self.joined = admissible(spec), admissible_joined(spec)
        if not self.schemes and not self.joined:
            raise InputError(no_scheme(spec), field="split")
        self.board = Board(spec.order, request.found)
        if given is not None:
            self.board.put(given, told=False)
        self.known = KnownBuilds(request.stores)
        self.ended = threading.Event()
        self.searches: list[Search] = []

    def answer(self) -> Answer:
        """What all sources have come to."""
        lanes = [(scheme, needed_handovers(self._pinned(scheme))) for scheme in self.schemes]
        ledgers = [self._ledger(*lane) for lane in lanes]  # a file that will not do is told before all else
        self.request.told("known builds")
        known = Aside(self._look_through_known)
        running = [known]
        try:
            known.wait(self.began + self._known_alone_s(), self.request.stop)
            with engine_for(self.request.workers, self.request.mebibytes, self.request.slots) as engine:
                try:
                    if not self._over():
                        running += self._start(lanes, engine, ledgers)
                    self._watch(lanes, running, engine)
                finally:
                    self.ended.set()
        finally:
            self.ended.set()
            over = time.monotonic() + (SAVING_S if self._is_lost() else ENDING_S)
            for one in running:
                one.wait(over)  # they keep what they have come to
            self.board.close()
        for one in running:
            if one.done:
                one.outcome  # noqa: B018 (raises what went wrong)
        proposals = (self.board.all() if self.request.dominated else self.board.front())[: max(self.request.top, 1)]
        searches = self.searches[: len(lanes)]  # what is asked for alone is of no interest where they have found one
        best = self._best_of(searches)
        if best is None:
            searches, best = self.searches, self._best_of(self.searches)
        answers = [one.answer() for one in searches] or [self._unsearched(*lane) for lane in lanes]
        answer = merged(self.spec, proposals, best, answers, [one.name for one in self.schemes or self.joined])
        answer.interrupted = self.request.stop.is_set()
        answer.seconds = time.monotonic() - self.began
        Aside(self._keep).wait(self.until + ENDING_S)
        return answer

    def _known_alone_s(self) -> float:
        if self.spec.outputs <= MEMBERS_MOST:
            return min(self.request.limit_s, KNOWN_ALONE_S)
        return min(KNOWN_ALONE_MOST_S, KNOWN_ALONE_SHARE * self.request.limit_s)

    def _best_of(self, searches: Sequence[Search]) -> Proposal | None:
        """The best of those that the claims of these searches are about."""
        best = (self.board.best(one.scheme.name, one.handovers) for one in searches)
        return min(filter(None, best), key=lambda one: rank_key(one.measures, self.spec.order), default=None)

    def _unsearched(self, scheme: Scheme, needed: tuple[int, ...]) -> Answer:
        """What a search would have been about that has not begun."""
        spec = self._pinned(scheme)
        scope = scope_of(spec, windows(spec, needed), needed)
        return Answer(scope=scope, solver=SOLVER, complete=False, schemes=(scheme.name,))

    # -- known builds -------------------------------------------------------------------------------------------------

    def _look_through_known(self) -> None:
        """Known builds, judged one by one: of each scheme in turn the next one, so that none waits for the others."""
        turns = [self._confirmed(scheme) for scheme in (*self.schemes, *self.joined)]
        while turns:
            for turn in list(turns):
                if self.ended.is_set() or (self.first_alone and len(self.board)):
                    return
                if next(turn, None) is None:
                    turns.remove(turn)

    def _confirmed(self, scheme: Scheme) -> Iterator[bool]:
        """Each candidate of a scheme, put on the board if the judge takes it; those of no fewer cells and parts than
        one that works under as many handovers as any can are passed over."""
        spec = self._pinned(scheme)
        judge, needed = Judge(spec, required_handovers(spec)), needed_handovers(spec)
        within = windows(spec, needed)
        taken: list[tuple[int, int]] = []
        for layout in self.known.candidates(spec):
            measures = volume(box_of(layout)), len(layout.parts)
            if not any(one[0] <= measures[0] and one[1] <= measures[1] for one in taken):
                if judge.accepts(layout):
                    found = judge.as_it_is(layout)
                    if set(needed) <= set(found.measures.handovers):
                        taken.append(measures)
                    if scheme.joined is not None:  # there are no claims that it could be beyond
                        self.board.put(found)
                    else:
                        self.board.put(replace(found, in_scope=False))  # shown first, looked into after
                        if spec.outputs > MEMBERS_MOST or is_admitted(layout, spec, within):
                            self.board.put(found, told=False)
                yield True

    # -- searches -----------------------------------------------------------------------------------------------------

    def _pinned(self, scheme: Scheme) -> Spec:
        """The spec for one scheme. One that is even for streams is held to that, whatever the spec asks, so that what
        is said of it can be relied on."""
        even_for = "stream" if "stream" in scheme.even_for else self.spec.even_for
        return replace(self.spec, scheme=scheme.name, even_for=even_for)

    def _search(self, lane: Lane, engine: JobEngine, ledger: Ledger | None) -> Search:
        scheme, handovers = lane
        spec = self._pinned(scheme)
        request = replace(self.request, stop=self.ended)
        like = self.known.candidates
        search = Search(spec, request, handovers, engine, self.board, self.until, ledger, self._noted, like)
        search.rule_out(self.known.claims(spec, handovers))
        return search

    def _start(self, lanes: Sequence[Lane], engine: JobEngine, ledgers: Sequence[Ledger | None]) -> list[Aside[None]]:
        """Have these schemes searched, each in a thread of its own."""
        searches = [self._search(lane, engine, ledger) for lane, ledger in zip(lanes, ledgers, strict=True)]
        self.searches += searches
        return [Aside(partial(self.run, search)) for search in searches]

    def _watch(self, lanes: Sequence[Lane], running: list[Aside[None]], engine: JobEngine) -> None:
        """Wait until all have ended or the time is over; where nothing is found, have the handover in force asked for
        alone."""
        alone = (self.spec.rules.handover,)
        others = [(scheme, alone) for scheme, needed in lanes if needed != alone]
        if self.spec.demands.handover == "both":
            others = []
        while not self._over():
            ended = all(one.done for one in running)
            if not len(self.board) and others and (ended or self._is_late()):
                running += self._start(others, engine, [None] * len(others))
                others = []
            elif ended:
                return
            for one in running:
                if one.done:
                    one.outcome  # noqa: B018 (raises what went wrong)
            time.sleep(POLL_S)

    def _over(self) -> bool:
        enough = self.first_alone and len(self.board)
        return bool(enough or self._is_lost() or self.request.stop.is_set() or time.monotonic() >= self._end())

    def _is_lost(self) -> bool:
        """Nothing can be done any more where the jobs are done."""
        return self.request.slots is not None and self.request.slots.lost != ""

    def _end(self) -> float:
        """When the search ends, as things stand."""
        nothing = self.request.nothing_s
        return self.until if nothing is None or len(self.board) else min(self.until, self.began + nothing)

    def _is_late(self) -> bool:
        return not len(self.board) and time.monotonic() >= self.began + self.request.limit_s * ALONE_SHARE

    def _noted(self, search: Search) -> None:
        """News of a search: told if it is that of the best layout's scheme, or there is none yet."""
        best = next(iter(self.board.front()), None)
        if search.descent is not None and (best is None or best.scheme == search.scheme.name):
            self.request.ladder(search.descent.ladder())

    # -- what is kept -------------------------------------------------------------------------------------------------

    def _ledger(self, scheme: Scheme, handovers: tuple[int, ...]) -> Ledger | None:
        """The file asked for, of schemes after the first one beside it, with the scheme in its name; else the cache."""
        path, spec = self.request.ledger, self._pinned(scheme)
        if path is None:
            if self.request.cache is None or self.first_alone:
                return None
            return cached(self.request.cache, digest_of(spec, handovers, windows(spec, handovers)))
        if scheme is not self.schemes[0]:
            path = _beside(path, scheme)
        return opened(path, digest_of(spec, handovers, windows(spec, handovers)))

    def _keep(self) -> None:
        """What was found and proved, for the next time."""
        cache = self.request.cache
        if cache is None:
            return
        for proposal in self.board.front():
            build = build_to_keep(self._pinned_by_name(proposal.scheme), proposal, "found by a search")
            if build is not None and proposal.in_scope:
                cache.keep_build(build)
        for search in self.searches:
            for claim in claims_to_keep(search.spec, search.answer().claims):
                cache.keep_claim(claim)

    def _pinned_by_name(self, name: str) -> Spec:
        every = (*self.schemes, *self.joined)
        return next((self._pinned(scheme) for scheme in every if scheme.name == name), self.spec)


def too_small_by_counting(spec: Spec) -> str | None:
    """Why no layout of any scheme can stand in the site, by counting cells alone; None: that does not tell."""
    pinned = [replace(spec, scheme=scheme.name) for scheme in admissible(spec)]
    if not pinned:
        return None  # nothing is told of what is joined from known builds
    cells = volume(spec.size) - len(spec.blocked)
    least = min(fewest_parts(one) for one in pinned)
    if cells < least:
        return f"a layout has {least} parts at least, the site has {cells} free cells"
    if not any(sizes(one, volume) for one in pinned):
        return "the row and what hangs on it need more cells in a line or a layer than the site has"
    return None


def _beside(path: Path, scheme: Scheme) -> Path:
    return path.with_name(f"{path.stem}.{scheme.name.replace(' ', '-')}{path.suffix}")

