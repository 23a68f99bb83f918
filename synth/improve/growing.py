"""Lists for which the site is too small: parts that are missing altogether, put up on one side of the build.

To leave every part as it is and only add some is a far smaller question than to change whatever helps. A site that
grows on one side alone stays small too. What is found so is a list that works, not one that is proved to be a cheapest.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from sim.world.geometry import Cell, Direction
from sim.world.layout import Layout
from sim.world.parts import Support
from synth.improve.bench import Bench, Candidate
from synth.improve.differences import Change, changes_between
from synth.improve.reading import Meant
from synth.improve.request import Request
from synth.model.images import moved
from synth.schemes.scheme import Scheme
from synth.solving.budget import Outcome

SIDES: Final[tuple[Direction, ...]] = ("N", "S", "E", "W", "U")
DEPTH: Final = 2
"""Layers of cells by which the site grows, unless the request says otherwise: a run and what it hangs on."""
TURN_S: Final = 4.0
"""Seconds that one side gets before it is the next one's turn."""


@dataclass(frozen=True, slots=True)
class Addition:
    """A list of parts to add. ``origin``: the build in the site that it takes, ``layout``: the same with the parts.

    ``moved``: by how much cells lie farther east and north than in the build.
    """

    side: Direction
    origin: Layout
    layout: Layout
    moved: tuple[int, int]
    names: dict[Cell, str]

    @property
    def changes(self) -> list[Change]:
        """What is to be added."""
        return changes_between(self.origin, self.layout)


def additions(
    build: Layout, meant: Meant, scheme: Scheme, needed: tuple[int, ...], request: Request, until: float
) -> Iterator[Addition]:
    """Lists of parts to add on one side, each cheaper than the one before, until ``until`` (``time.monotonic``).

    The sides take turns, until one of them has a list; then that one goes on alone.
    """
    depth = DEPTH if request.room is None else request.room
    sides = [_Side(build, meant, scheme, needed, request, side, depth) for side in SIDES] if depth else []
    try:
        while sides and not _is_over(request, until):
            side = sides.pop(0)
            request.told(f"{scheme.name}: parts to add on the side {side.side}?")
            while (found := side.cheaper(min(until, time.monotonic() + TURN_S))) is not None:
                yield found
            if side.has_list:
                while not side.is_settled and not _is_over(request, until):
                    found = side.cheaper(until)
                    if found is not None:
                        yield found
                side.close()
                return
            if side.is_settled:
                side.close()
            else:
                sides.append(side)
    finally:
        for side in sides:
            side.close()


def grown(build: Layout, side: Direction, depth: int) -> Layout:
    """The build in a site that is larger by so many layers of cells on that side."""
    w, d, h = build.size
    dx, dy = _offset(side, depth)
    size = w + (depth if side in "EW" else 0), d + (depth if side in "NS" else 0), h + (depth if side == "U" else 0)
    return moved(build, (dx, dy, 0), size)


def _is_over(request: Request, until: float) -> bool:
    return request.stop.is_set() or time.monotonic() >= until


def _offset(side: Direction, depth: int) -> tuple[int, int]:
    """How far cells move where the site grows on that side."""
    return (depth if side == "W" else 0), (depth if side == "S" else 0)


class _Side:
    """The search on one side."""

    def __init__(
        self, build: Layout, meant: Meant, scheme: Scheme, needed: tuple[int, ...], request: Request,
        side: Direction, depth: int,
    ) -> None:  # fmt: skip
        self.side, self.depth, self.build = side, depth, build
        self.grown = grown(build, side, depth)
        self._meant = meant.placed(self.grown, *_offset(side, depth))
        self._scheme, self._needed = scheme, needed
        self._request = request
        self._bench: _Adding | None = None
        self._most = request.highest  # under a bound the solver finds a list far sooner than without
        self.has_list = self.is_settled = self._is_leaning = False

    def cheaper(self, until: float) -> Addition | None:
        """A list that is cheaper than the last one; None: none was found by ``until``, or there is none."""
        if self.is_settled:
            return None
        if self._bench is None:
            self._bench = _Adding(self.grown, self._meant, self._scheme, self._needed, self._request)
        outcome, candidate = self._asked(self._bench, until)
        if candidate is None:
            self.is_settled = outcome == "none exists"
            return None
        fewer = self._without_needless(candidate, self._bench)
        changes = changes_between(self.grown, fewer.layout)
        self.has_list, self._most = True, sum(change.cost(self._request.prices) for change in changes) - 1
        return self._cropped(fewer)

    def _asked(self, bench: Bench, until: float) -> tuple[Outcome, Candidate | None]:
        """Half of the first turn without preferences, all else with them: each way is at times ten times as fast."""
        if not self._is_leaning:
            now = time.monotonic()
            outcome, candidate = bench.ask(self._most, now + (until - now) / 2)
            if outcome != "stopped":
                return outcome, candidate
            self._is_leaning = True
            bench.lean()
        return bench.ask(self._most, until)

    def close(self) -> None:
        """Give the memory back."""
        if self._bench is not None:
            self._bench.close()

    def _without_needless(self, candidate: Candidate, bench: Bench) -> Candidate:
        """Without added parts that it passes without; what hangs on a support is tried before it, again and again until
        every part that is left is needed."""
        layout, tried = candidate.layout, None
        while tried != layout:
            tried = layout
            added = changes_between(self.grown, layout)
            for change in sorted(added, key=lambda one: (isinstance(one.after, Support), -one.at[2])):
                fewer = replace(layout, parts=tuple(part for part in layout.parts if part.at != change.at))
                if bench.accepts(fewer):
                    layout = fewer
        return Candidate(layout, candidate.names)

    def _cropped(self, candidate: Candidate) -> Addition:
        """In a site that has grown no further than it must."""
        low = [min(part.at[axis] for part in candidate.layout.parts) for axis in range(2)]
        high = [max(part.at[axis] for part in candidate.layout.parts) + 1 for axis in range(3)]
        dx, dy = _offset(self.side, self.depth)
        cut_x, cut_y = min(dx, low[0]), min(dy, low[1])
        w, d, h = self.build.size
        size = max(high[0], dx + w) - cut_x, max(high[1], dy + d) - cut_y, max(high[2], h)
        names = {(x - cut_x, y - cut_y, z): name for (x, y, z), name in candidate.names.items()}
        origin, layout = (moved(one, (-cut_x, -cut_y, 0), size) for one in (self.grown, candidate.layout))
        return Addition(self.side, origin, layout, (dx - cut_x, dy - cut_y), names)


class _Adding(Bench):
    """A bench on which every part of the build stays as it is."""

    def __init__(self, build: Layout, meant: Meant, scheme: Scheme, needed: tuple[int, ...], request: Request) -> None:
        super().__init__(build, meant, scheme, needed, request)
        for part in build.parts:
            self._solver.add((self.same[part.at],))
