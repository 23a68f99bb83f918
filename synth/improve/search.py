"""The search for the fewest changes: lists that cost nothing, 1, 2, ... until one makes the build pass.

That none of cost k exists is proved before k + 1 is asked (iterative deepening), so the first one found is a cheapest.
Where the proofs take too long, a list of any cost is looked for, bettered until the time is over, and not called
proved.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

from sim.analysis.checks import design_findings
from sim.world.layout import Layout
from sim.world.parts import Support
from synth.ask.spec import Spec
from synth.confirm.confirmation import confirm, handovers_to_try, terms_of
from synth.confirm.judge import Judge
from synth.improve.bench import Bench, Candidate
from synth.improve.differences import Change, changes_between
from synth.improve.growing import DEPTH, Addition, additions
from synth.improve.halls import Found, improve_hall, known_list
from synth.improve.reading import Meant, meant_by
from synth.improve.request import Request
from synth.improve.result import Attempt, Checked, Improvement
from synth.improve.scope import cells, no_single, of_failing, of_model, of_singles
from synth.improve.single import TRIED_MOST, changed, single_changes, try_singles
from synth.improve.spaces import cropped, with_room
from synth.improve.words import node_labels
from synth.model.images import moved
from synth.read.layout import is_of_a_hall
from synth.schemes.registry import scheme_named
from synth.schemes.scheme import Scheme

DEEPENING: Final = 0.5
"""Share of a turn's time in which proofs alone are sought."""
KNOWN: Final = 0.25
"""Share of the time after which no more known rows are laid over the build."""
SINGLES: Final = 0.25
"""Share of the time after which no more single changes are tried."""
FIRST_ROOM: Final = 0.6
LATER_ROOM: Final = 0.35
"""Shares of the time after which a room that has no list is left, and at last parts are added on one side."""
LIKELIER: Final = 0.7
"""Share of what is left of it that the more promising scheme gets when parts are added."""
UNBOUNDED_FROM: Final = 5
"""Once lists cost so much, the next question is whether there is a list at all."""
UNBOUNDED: Final = 0.2
"""Share of the time for proofs that this question gets."""
TURNS: Final = 2
"""So often each scheme that is not settled gets its share of the time that is left."""


def improve(layout: Layout, request: Request) -> Improvement:
    """The cheapest list of changes that makes the build pass. Raises InputError where its item network is beyond the
    search (``reading``)."""
    if is_of_a_hall(layout):
        return improve_hall(layout, request)
    began = time.monotonic()
    meant = meant_by(layout, request.scheme)
    rules = meant.spec.rules
    needed = handovers_to_try(rules) if request.both else (rules.handover,)
    before = checked(layout, meant.under(meant.schemes[0]), needed)
    answer = Improvement("stopped", layout, before, most=request.highest)
    passing = next((s for s in meant.schemes if Judge(meant.under(s), needed).accepts(layout)), None)
    if passing is not None:
        answer.status, answer.scheme, answer.layout = "passes", passing.name, layout
        answer.before = checked(layout, meant.under(passing), needed)
    else:
        until = began + request.limit_s
        if not _one_will_do(answer, meant, needed, request, began + SINGLES * request.limit_s):
            known = _of_known_rows(layout, request, min(until, time.monotonic() + KNOWN * request.limit_s))
            _searched(answer, meant, needed, request, began, known)
            if answer.status == "stopped" and request.room != 0:
                _added(answer, meant, needed, request, until)
            if answer.status != "found" and known is not None:
                _settle(answer, _known_best(known, known.room, layout, request), meant, needed, known.room)
                answer.scope += [f"the list: {how}; no other was looked for in that room" for how in known.how]
    answer.seconds = time.monotonic() - began
    return answer


def checked(layout: Layout, spec: Spec, needed: tuple[int, ...]) -> Checked:
    """What the design checks and the trials say of the layout."""
    confirmation = confirm(layout, spec.rules, needed=needed, terms=terms_of(spec))
    return Checked(tuple(design_findings(layout, spec.rules)), confirmation.records, needed)


def _one_will_do(
    answer: Improvement, meant: Meant, needed: tuple[int, ...], request: Request, until: float
) -> bool:
    """Fills in the answer where a single change will do, tried in the simulator, without a model.

    Where there are prices one change need not be the cheapest list; where there are too many, none is tried.
    """
    build = with_room(answer.build, request.room or 0)
    possible = len(single_changes(build))
    if request.prices or possible > TRIED_MOST:
        return False
    request.told(f"each of {possible} single changes")
    judges = [Judge(meant.placed(build).under(scheme), needed) for scheme in meant.schemes]
    found = try_singles(build, judges, lambda: request.stop.is_set() or time.monotonic() >= until)
    if found.none_will_do:
        answer.singles = found.possible
    if not found.passing:
        return False
    change = min(found.passing, key=lambda one: len(changed(build, one).parts))
    layout = changed(build, change)
    scheme = next(s for s, judge in zip(meant.schemes, judges, strict=True) if judge.accepts(layout))
    candidate = Candidate(layout, node_labels(layout))
    _settle(answer, _Best(candidate, 1, scheme), meant, needed, request.room or 0)
    answer.proof = "as it stands"
    of_all = f"{found.tried} of {found.possible} single changes in {cells(build.size)} were tried"
    answer.scope = [*of_failing(meant, needed), of_all]
    return True


def _added(answer: Improvement, meant: Meant, needed: tuple[int, ...], request: Request, until: float) -> None:
    """Fills in the answer with a list of parts to add on one side, if one is found: a good one, and no proof but where
    one change does it, or two in the site do what no single one does."""
    best: tuple[Addition, Scheme] | None = None
    for n, scheme in enumerate(meant.schemes):
        began = time.monotonic()
        share = until if n == len(meant.schemes) - 1 else began + LIKELIER * (until - began)
        most = _cost(best[0].changes, request) - 1 if best else request.highest
        for found in additions(answer.build, meant, scheme, needed, replace(request, most=most), share):
            best = found, scheme
        depth = DEPTH if request.room is None else request.room
        answer.attempts.append(Attempt(scheme.name, depth, 0, False, 0, 0, time.monotonic() - began))
    if best is None:
        return
    found, scheme = best
    answer.status, answer.layout, answer.scheme = "found", found.layout, scheme.name
    answer.changes, answer.cost = found.changes, _cost(found.changes, request)
    answer.moved, answer.names = found.moved, found.names
    answer.after = checked(found.layout, meant.placed(found.layout).under(scheme), needed)
    in_site = found.layout.size == answer.build.size
    _prove(answer, meant, needed, request.room or 0, is_tried=in_site and bool(answer.singles))
    answer.scope.append(f"the list: parts added on the {found.side} side, all others as they are")


def _prove(
    answer: Improvement, meant: Meant, needed: tuple[int, ...], room: int, is_tried: bool, here: Sequence[Attempt] = ()
) -> None:
    """Fills in what shows that no list in that room is cheaper than the one found. ``is_tried``: no single change in it
    will do; ``here``: what is known of each scheme in it."""
    if answer.cost == 1:
        answer.proof, answer.scope = "as it stands", of_failing(meant, needed)
    elif answer.cost == 2 and is_tried:
        answer.proof = "single changes"
        answer.scope = of_singles(meant, needed, answer.singles, with_room(answer.build, room).size)
    elif here and all(one.settled or one.least >= answer.cost for one in here):
        answer.proof = "model"
    answer.room = room


def _of_known_rows(build: Layout, request: Request, until: float) -> Found | None:
    """The list by which the build becomes like one that is known, unless it costs more than was asked for."""
    known = known_list(build, request, until)
    if known is None or request.most is None or _known_best(known, known.room, build, request).cost <= request.most:
        return known
    return None


def _known_best(known: Found, room: int, build: Layout, request: Request) -> _Best:
    """The list by which the build becomes like one that is known, in more room around it."""
    there = with_room(build, room)
    more = room - known.room
    layout = moved(known.layout, (more, more, 0), there.size)
    cost = _cost(changes_between(there, layout), request)
    return _Best(Candidate(layout, node_labels(layout)), cost, scheme_named(next(iter(known.schemes.values()))))


def _cost(changes: list[Change], request: Request) -> int:
    return sum(change.cost(request.prices) for change in changes)


def _searched(
    answer: Improvement, meant: Meant, needed: tuple[int, ...], request: Request, began: float, known: Found | None
) -> None:
    """Fills in the answer: room after room until a list is found, in each every scheme. ``known``: a list that will
    do."""
    best: _Best | None = None
    rooms = (0, 1) if request.room is None else (request.room,)
    for room in rooms:
        share = 1.0 if request.room == 0 else FIRST_ROOM if room == rooms[0] else LATER_ROOM
        until = began + share * request.limit_s
        build = with_room(answer.build, room)
        there, is_tried = meant.placed(build, room, room), bool(answer.singles) and room == (request.room or 0)
        tries = [_Try(build, there, scheme, needed, request, room) for scheme in meant.schemes]
        for one in tries:
            one.least = 2 if is_tried else 0
        if known is not None and known.room <= room:
            best = _known_best(known, room, answer.build, request)
            request.told(f"a list that costs {best.cost} is known; any that costs less?")
        best = _in_turn(tries, until, best)
        here = [one.attempt() for one in tries]
        answer.attempts += here
        answer.room, answer.scope = room, of_model(meant, needed)
        if answer.singles:
            answer.scope.insert(0, no_single(answer.singles, with_room(answer.build, request.room or 0).size))
        if best is not None:
            _settle(answer, best, meant, needed, room)
            _prove(answer, meant, needed, room, is_tried, here)
            return
        if request.stop.is_set() or time.monotonic() >= until:
            return
    answer.status = "none exists" if all(one.settled for one in tries) else "stopped"
    answer.impossible = all(one.impossible for one in tries)


def _in_turn(tries: list[_Try], until: float, best: _Best | None) -> _Best | None:
    """The best list of all, that one included; time that a scheme leaves over goes to those that are not settled."""
    for turn in range(TURNS):
        todo = [one for one in tries if not one.settled]
        for n, one in enumerate(todo):
            now = time.monotonic()
            if turn and now >= until:
                break
            best = one.turn(now + (until - now) / (len(todo) - n), best)
    return best


class _Best:
    """The cheapest list so far."""

    def __init__(self, candidate: Candidate, cost: int, scheme: Scheme) -> None:
        self.candidate, self.cost, self.scheme = candidate, cost, scheme


class _Try:
    """One scheme in one box. What it has proved it keeps from one turn to the next."""

    def __init__(
        self, build: Layout, meant: Meant, scheme: Scheme, needed: tuple[int, ...], request: Request, room: int
    ) -> None:
        self.build, self.meant, self.scheme, self.needed = build, meant, scheme, needed
        self.request, self.room = request, room
        self.best: _Best | None = None
        self.least, self.seconds, self.settled = 0, 0.0, False
        self.impossible = self._asked_for_any = False
        self._bench: Bench | None = None

    def turn(self, until: float, best: _Best | None) -> _Best | None:
        """Go on until settled or the time is over; the cheaper of ``best`` and of what was found."""
        began, self.best = time.monotonic(), best
        if self._bench is None:
            self.request.told(f"{self.scheme.name}: building the model")
            self._bench = Bench(self.build, self.meant, self.scheme, self.needed, self.request)
        self.settled = self._deepened(self._bench, began + DEEPENING * (until - began), until)
        self.seconds += time.monotonic() - began
        return self.best

    def attempt(self) -> Attempt:
        """What is known; gives the memory back."""
        admitted, refused = (self._bench.admitted, self._bench.refused) if self._bench else (0, 0)
        if self._bench is not None:
            self._bench.close()
        return Attempt(self.scheme.name, self.room, self.least, self.settled, admitted, refused, self.seconds)

    def _most(self) -> int:
        """The highest cost that is still worth a list."""
        return self.best.cost - 1 if self.best else self.request.highest

    def _deepened(self, bench: Bench, proving: float, until: float) -> bool:
        """Nothing but what was found is cheaper (proved)."""
        settled = self._proved(bench, proving)
        if not settled:
            self._bettered(bench, until)
            settled = self.best is not None and self.least > self._most()
        return settled

    def _proved(self, bench: Bench, until: float) -> bool:
        while self.least <= self._most():
            if self.least >= UNBOUNDED_FROM and not self._asked_for_any:
                self._asked_for_any = True
                now = time.monotonic()
                if self._is_beyond_all(bench, now + UNBOUNDED * (until - now)):
                    return True
                continue
            self.request.told(f"{self.scheme.name}: a list that costs {self.least}? ({bench.refused} refused)")
            outcome, candidate = bench.ask(self.least, until)
            if candidate is not None:
                self._take(bench, candidate)
                return True
            if outcome == "stopped":
                return False
            self.least += 1
        return True

    def _is_beyond_all(self, bench: Bench, until: float) -> bool:
        """Proved: no list at all makes the build pass. One that is found is kept."""
        self.request.told(f"{self.scheme.name}: any list?")
        outcome, candidate = bench.ask(None, until)
        if candidate is not None:
            self._take(bench, reduced(self.build, candidate, bench.accepts))
        self.impossible = outcome == "none exists"
        if self.impossible:
            self.least = self._most() + 1
        return self.impossible

    def _bettered(self, bench: Bench, until: float) -> None:
        """A list that costs no more than is looked at, then each cheaper than the one before."""
        bench.lean()
        while self._most() >= self.least:
            most = self._most()
            self.request.told(f"{self.scheme.name}: any list that costs {most} or less?")
            outcome, candidate = bench.ask(most, until)
            if candidate is not None:
                self._take(bench, reduced(self.build, candidate, bench.accepts))
            elif outcome == "none exists":
                self.least = self._most() + 1
            else:
                return

    def _take(self, bench: Bench, candidate: Candidate) -> None:
        cost = _cost(changes_between(self.build, candidate.layout), self.request)
        if self.best is None or cost < self.best.cost:
            self.best = _Best(candidate, cost, self.scheme)


def reduced(build: Layout, candidate: Candidate, accepts: Callable[[Layout], bool]) -> Candidate:
    """The candidate without changes that it passes without, each tried once; what hangs on a support before it."""
    layout = candidate.layout
    for change in sorted(changes_between(build, layout), key=_needless_first):
        parts = [part for part in layout.parts if part.at != change.at]
        fewer = replace(layout, parts=tuple([*parts, change.before] if change.before else parts))
        if accepts(fewer):
            layout = fewer
    return Candidate(layout, candidate.names)


def _needless_first(change: Change) -> tuple[bool, int]:
    """What hangs on a support is tried before it."""
    return isinstance(change.after, Support), -change.at[2]


def _settle(answer: Improvement, best: _Best, meant: Meant, needed: tuple[int, ...], room: int) -> None:
    """Fills in the answer with the best list, in a site no larger than it needs."""
    origin, layout, moved = cropped(answer.build, best.candidate.layout, room)
    answer.status, answer.layout, answer.scheme, answer.cost = "found", layout, best.scheme.name, best.cost
    answer.moved, answer.changes = moved, changes_between(origin, layout)
    east, north = room - moved[0], room - moved[1]
    answer.names = {(x - east, y - north, z): name for (x, y, z), name in best.candidate.names.items()}
    answer.after = checked(layout, meant.under(best.scheme), needed)
