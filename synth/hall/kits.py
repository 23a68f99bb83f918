"""The pieces that a hall can be made of: for each row those of the schemes that serve it, kept ones first, the rest
searched."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Final

from sim.rulebook import Rules
from synth.confirm import handovers_to_try
from synth.hall.apart import barred_beside, rows_apart
from synth.hall.lanes import LANES, End
from synth.hall.piece_crew import pieces_of
from synth.hall.piece_file import PieceFile
from synth.hall.piece_question import smallest_number
from synth.hall.piece_request import PieceRequest
from synth.hall.piece_solver import Budget
from synth.hall.pieces import RowPieces
from synth.hall.spec import HallSpec, HallStream
from synth.schemes.registry import scheme_named, schemes
from synth.schemes.scheme import Scheme, Which

ENDS: Final[tuple[End, ...]] = ("tail", "head")
SHARE: Final = 0.75
"""Of the time that is left, for one pair of schemes."""
RELAYS: Final = (0, 1)
"""Relays in mid-run that pieces leave time for."""


@dataclass(frozen=True, slots=True)
class Kit:
    """Pieces of a feed row and of a fuel row that go together; the product leaves at ``end``."""

    feed: RowPieces
    fuel: RowPieces
    end: End

    @property
    def longest(self) -> int:
        """Furnaces of the longest wing."""
        return min(self.feed.longest, self.fuel.longest)


@dataclass(frozen=True, slots=True)
class Tools:
    """What a search for pieces works with."""

    file: PieceFile
    budget: Budget
    workers: int
    seed: int
    told: Callable[[str], None]


def serving(stream: HallStream) -> list[Scheme]:
    """The schemes that do what is asked of the stream and whose columns can be alike, the most promising first."""
    return [
        scheme
        for scheme in schemes().values()
        if stream.even_for in scheme.even_for
        and (stream.leftovers == "hold" or scheme.leaves == "deliver")
        and stream.scheme in (None, scheme.name)
        and repeats(scheme)
    ]


def repeats(scheme: Scheme) -> bool:
    """One lock for all B nodes of the row: its columns can be alike."""
    alike = all(nodes.which is Which.EVERY for nodes in scheme.lockable())
    return alike and not any(watch.apart for watch in scheme.watches)


def handovers_for(spec: HallSpec) -> tuple[int, ...]:
    """The handovers under which the hall must split evenly."""
    return handovers_to_try(spec.rules) if spec.demands.handover == "both" else (spec.rules.handover,)


def kits(spec: HallSpec, rows_most: int | None, tools: Tools) -> Iterator[Kit]:
    """Kits for the spec, as they come: all that the file holds pieces for; where it holds none, the most promising is
    searched. ``rows_most``: the fewest furnaces that a wing must reach (None: any), for which relays are put in."""
    found = False
    for relays, end in product(RELAYS, ENDS):
        wanted = [_requests(spec, stream, end, relays, tools) for stream in (spec.feed, spec.fuel_stream)]
        kept = [[(one, pieces) for one in some if (pieces := tools.file.find(one))] for some in wanted]
        for (_, feed), (asked, fuel) in product(*kept):
            kit = _together(Kit(feed, fuel, end), asked, tools)
            if kit is not None:
                found = found or _is_long_enough(kit, rows_most)
                yield kit
    for relays, end in product(RELAYS, ENDS):
        if found or tools.budget.is_over:
            return
        if relays and rows_most is None:
            return
        for kit in _searched(spec, end, relays, tools):
            found = found or _is_long_enough(kit, rows_most)
            yield kit


def _is_long_enough(kit: Kit, least: int | None) -> bool:
    return least is None or kit.longest >= least


def _requests(
    spec: HallSpec, stream: HallStream, end: End, relays: int, tools: Tools
) -> list[PieceRequest]:
    return [
        _request(spec.rules, stream, scheme.name, handovers_for(spec), end, relays, tools) for scheme in serving(stream)
    ]


def _request(
    rules: Rules, stream: HallStream, scheme: str, handovers: tuple[int, ...], end: End, relays: int, tools: Tools
) -> PieceRequest:
    return PieceRequest(
        LANES[stream.enters], scheme, rules, handovers, end=end, spare=relays * rules.relay_step, seed=tools.seed
    )


def _searched(spec: HallSpec, end: End, relays: int, tools: Tools) -> Iterator[Kit]:
    """The first kit that comes, scheme by scheme."""
    ways = [_requests(spec, stream, end, relays, tools) for stream in (spec.feed, spec.fuel_stream)]
    for pair in sorted(product(*ways), key=lambda pair: ways[0].index(pair[0]) + ways[1].index(pair[1])):
        have = _solved(pair, replace(tools, budget=tools.budget.part(SHARE)))
        if len(have) == len(pair):
            kit = _together(Kit(have[pair[0]], have[pair[1]], end), pair[1], tools)
            if kit is not None:
                yield kit
                return
        if tools.budget.is_over:
            return


def _solved(requests: Sequence[PieceRequest], tools: Tools) -> dict[PieceRequest, RowPieces]:
    have = {one: pieces for one in requests if (pieces := tools.file.find(one)) is not None}
    missing = [one for one in requests if one not in have]
    for request, pieces in pieces_of(missing, tools.budget, tools.workers, tools.told):
        if pieces is not None:
            have[request] = pieces
            tools.file.keep(request, pieces)
    return have


def _together(kit: Kit, fuel: PieceRequest, tools: Tools) -> Kit | None:
    """The kit, with a fuel row that keeps away from the feed row's wiring where it must; None: not found."""
    if rows_apart(kit.feed, kit.fuel, kit.end, fuel.rules):
        return kit
    n = smallest_number(scheme_named(kit.fuel.scheme))
    away = replace(fuel, barred=barred_beside(kit.feed, LANES[kit.fuel.face], n))
    pieces = _solved([away], tools).get(away)
    if pieces is None or not rows_apart(kit.feed, pieces, kit.end, fuel.rules):
        return None
    return replace(kit, fuel=pieces)
