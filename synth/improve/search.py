"""The search for the fewest changes: lists that cost nothing, 1, 2, ... until one makes the build pass.

That none of cost k exists is proved before k + 1 is asked (iterative deepening), so the first one found is a cheapest.
Where the proofs take too long, a list of any cost is looked for, bettered until the time is over, and not called
proved.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Final

from sim.checks import design_findings
from sim.geometry import Cell
from sim.layout import Layout
from synth.confirm import confirm, handovers_to_try, terms_of
from synth.exact.cadical import SOLVER
from synth.improve.bench import Bench, Candidate
from synth.improve.differences import changes_between
from synth.improve.reading import Meant, meant_by
from synth.improve.request import Request
from synth.improve.result import Attempt, Checked, Improvement
from synth.judge import Judge
from synth.plots import windows
from synth.schemes.scheme import Scheme
from synth.scope import scope_of
from synth.spec import Spec

DEEPENING: Final = 0.5
"""Share of a turn's time in which proofs alone are sought."""
TURNS: Final = 2
"""So often each scheme that is not settled gets its share of the time that is left."""


def improve(layout: Layout, request: Request) -> Improvement:
    """The cheapest list of changes that makes the build pass. Raises InputError where its item network is beyond the
    search (``reading``)."""
    began = time.monotonic()
    meant = meant_by(layout, request.scheme)
    rules = meant.spec.rules
    needed = handovers_to_try(rules) if request.both else (rules.handover,)
    answer = Improvement("stopped", layout, checked(layout, meant.under(meant.schemes[0]), needed), most=request.most)
    passing = next((s for s in meant.schemes if Judge(meant.under(s), needed).accepts(layout)), None)
    if passing is not None:
        answer.status, answer.scheme, answer.layout = "passes", passing.name, layout
        answer.before = checked(layout, meant.under(passing), needed)
    else:
        _searched(answer, meant, needed, request, began + request.limit_s)
    answer.seconds = time.monotonic() - began
    return answer


def checked(layout: Layout, spec: Spec, needed: tuple[int, ...]) -> Checked:
    """What the design checks and the trials say of the layout."""
    confirmation = confirm(layout, spec.rules, needed=needed, terms=terms_of(spec))
    return Checked(tuple(design_findings(layout, spec.rules)), confirmation.records, needed)


def _searched(answer: Improvement, meant: Meant, needed: tuple[int, ...], request: Request, until: float) -> None:
    """Fills in the answer: room after room until a list is found, in each every scheme."""
    best: _Best | None = None
    rooms = (0, 1) if request.room is None else (request.room,)
    for room in rooms:
        build = with_room(answer.build, room)
        moved = Meant(_moved_spec(meant.spec, build, room), meant.schemes,
                      {_moved(cell, room): kind for cell, kind in meant.standing.items()})  # fmt: skip
        tries = [_Try(build, moved, scheme, needed, request, room) for scheme in meant.schemes]
        best = _in_turn(tries, until)
        here = [one.attempt() for one in tries]
        answer.attempts += here
        answer.scope = _scope(meant, needed, build, room)
        if best is not None:
            _settle(answer, best, meant, needed, room, here)
            return
        if request.stop.is_set() or time.monotonic() >= until:
            return
    last = answer.attempts[-len(meant.schemes) :]
    answer.status = "none exists" if all(one.settled for one in last) else "stopped"


def _in_turn(tries: list[_Try], until: float) -> _Best | None:
    """The best list of all; time that one scheme leaves over goes to those that are not settled."""
    best: _Best | None = None
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
        return self.best.cost - 1 if self.best else self.request.most

    def _deepened(self, bench: Bench, proving: float, until: float) -> bool:
        """Nothing but what was found is cheaper (proved)."""
        settled = self._proved(bench, proving)
        if not settled:
            self._bettered(bench, until)
            settled = self.best is not None and self.least > self._most()
        return settled

    def _proved(self, bench: Bench, until: float) -> bool:
        while self.least <= self._most():
            self.request.told(f"{self.scheme.name}: a list that costs {self.least}? ({bench.refused} refused)")
            outcome, candidate = bench.ask(self.least, until)
            if candidate is not None:
                self._take(bench, candidate)
                return True
            if outcome == "stopped":
                return False
            self.least += 1
        return True

    def _bettered(self, bench: Bench, until: float) -> None:
        """A list of whatever cost, then each cheaper than the one before."""
        while self._most() >= self.least:
            most = self._most() if self.best else None
            self.request.told(f"{self.scheme.name}: any list{'' if most is None else f' that costs {most} or less'}?")
            outcome, candidate = bench.ask(most, until)
            if candidate is not None:
                self._take(bench, reduced(self.build, candidate, bench.accepts))
            elif outcome == "none exists":
                self.least = self._most() + 1
            else:
                return

    def _take(self, bench: Bench, candidate: Candidate) -> None:
        cost = sum(change.cost(self.request.prices) for change in changes_between(self.build, candidate.layout))
        if self.best is None or cost < self.best.cost:
            self.best = _Best(candidate, cost, self.scheme)


def reduced(build: Layout, candidate: Candidate, accepts: Callable[[Layout], bool]) -> Candidate:
    """The candidate without changes that it passes without, each tried once."""
    layout = candidate.layout
    for change in changes_between(build, layout):
        parts = [part for part in layout.parts if part.at != change.at]
        fewer = replace(layout, parts=tuple([*parts, change.before] if change.before else parts))
        if accepts(fewer):
            layout = fewer
    return Candidate(layout, candidate.names)


def with_room(build: Layout, room: int) -> Layout:
    """The build with so many free cells on each side of its site and above it."""
    w, d, h = build.size
    return replace(
        build,
        size=(w + 2 * room, d + 2 * room, h + room),
        parts=tuple(replace(part, at=_moved(part.at, room)) for part in build.parts),
        streams=tuple(
            replace(s, source=_moved(s.source, room), outputs=tuple(_moved(c, room) for c in s.outputs))
            for s in build.streams
        ),
    )


def _moved(cell: Cell, room: int) -> Cell:
    return cell[0] + room, cell[1] + room, cell[2]


def _moved_spec(spec: Spec, build: Layout, room: int) -> Spec:
    streams = (
        replace(s, source=_moved(s.source, room) if isinstance(s.source, tuple) else s.source,
                outputs_at=tuple(_moved(cell, room) for cell in s.outputs_at))
        for s in spec.streams
    )  # fmt: skip
    return replace(spec, size=build.size, streams=tuple(streams))


def _settle(
    answer: Improvement, best: _Best, meant: Meant, needed: tuple[int, ...], room: int, here: list[Attempt]
) -> None:
    """The answer with the best list, in a site no larger than it needs."""
    found = best.candidate.layout
    low = [min(room, *(part.at[axis] for part in found.parts)) for axis in range(2)]
    high = [max(part.at[axis] + 1 for part in found.parts) for axis in range(3)]
    w, d, h = answer.build.size
    size = max(high[0] - low[0], w + room - low[0]), max(high[1] - low[1], d + room - low[1]), max(high[2], h)
    layout = _shifted(found, low, size)
    answer.status, answer.layout, answer.scheme, answer.cost = "found", layout, best.scheme.name, best.cost
    answer.moved = room - low[0], room - low[1]
    origin = _shifted(with_room(answer.build, room), low, size)
    answer.changes = changes_between(origin, layout)
    answer.names = {(x - low[0], y - low[1], z): name for (x, y, z), name in best.candidate.names.items()}
    answer.after = checked(layout, meant.under(best.scheme), needed)
    answer.proved = all(one.settled or one.least >= best.cost for one in here)


def _shifted(layout: Layout, low: list[int], size: tuple[int, int, int]) -> Layout:
    def move(cell: Cell) -> Cell:
        return cell[0] - low[0], cell[1] - low[1], cell[2]

    return replace(
        layout,
        size=size,
        parts=tuple(replace(part, at=move(part.at)) for part in layout.parts),
        streams=tuple(replace(s, source=move(s.source), outputs=tuple(map(move, s.outputs))) for s in layout.streams),
    )


def _scope(meant: Meant, needed: tuple[int, ...], build: Layout, room: int) -> list[str]:
    """What a claim is about, in sentences."""
    sentences: list[str] = []
    for scheme in meant.schemes:
        spec = meant.under(scheme)
        sentences += scope_of(spec, windows(spec, needed), needed)
    w, d, h = build.size
    around = f", {room} more than the site on each side and above" if room else ", the site"
    stay = "source bins and furnaces stay where they stand" + (", so does what serves no row" if meant.standing else "")
    return [
        *dict.fromkeys(sentences),
        f"in {w} x {d} x {h} cells{around}; {stay}; nodes may move, as far as the row keeps to one layer",
        SOLVER,
    ]
