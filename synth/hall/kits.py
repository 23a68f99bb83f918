"""The pieces that a hall can be made of: for each row those of the schemes that serve it, kept ones first, the rest
searched."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import product
from typing import Final

from synth.ask.hall_spec import HallSpec, HallStream
from synth.ask.spec import Face
from synth.confirm.confirmation import handovers_to_try
from synth.hall.apart import barred_beside, barred_in_a_close_wing, rows_apart, where_they_meet
from synth.hall.lanes import LANES, STRAIGHT_ON, End
from synth.hall.piece_crew import pieces_of
from synth.hall.piece_file import Pieces
from synth.hall.piece_question import Barred, smallest_number
from synth.hall.piece_request import CLOSE_ROOM, PieceRequest
from synth.hall.pieces import RowPieces
from synth.hall.section import SECTIONS, Section
from synth.schemes.batched_row import JOINED as BATCHED
from synth.schemes.burst_row import SCHEME as BURST
from synth.schemes.registry import scheme_named, schemes
from synth.schemes.scheme import Scheme, Which
from synth.solving.budget import Budget
from synth.solving.parallel.work import Slots

ENDS: Final[tuple[End, ...]] = ("tail", "head")
SHARE: Final = 0.75
"""Of the time that is left, for one pair of schemes."""
FUEL_SHARE: Final = 0.5
"""Of that, for the fuel rows."""
FEED_SHARE: Final = 0.75
"""Of the rest, for the feed rows; what is left then is for rows that do not agree yet."""
ROUND_SHARE: Final = 0.3
"""Of what is left then, for each time that a feed row is asked for anew."""
ROUNDS: Final = 8
"""How often a feed row is asked for anew."""
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

    file: Pieces
    budget: Budget
    workers: int
    seed: int
    told: Callable[[str], None]
    slots: Slots | None = None


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


def kits(spec: HallSpec, least_reach: int | None, tools: Tools) -> Iterator[Kit]:
    """Kits for the spec, as they come: rows behind gates, where these serve; all others that the file holds pieces for;
    where there are none yet, searched ones.

    ``least_reach``: furnaces that a wing must reach (None: any number), for which relays are put in.
    """
    found = False
    for kit in close_kits(spec, tools):
        found = found or _is_long_enough(kit, least_reach)
        yield kit
    behind = tuple(stream for stream in spec.streams if may_be_gated(spec, stream))
    if behind:
        for kit in _plain_kits(_taken_at_once(spec, behind), least_reach, tools, found):
            found = found or _is_long_enough(kit, least_reach)
            yield Kit(_behind_a_gate(kit.feed, behind), _behind_a_gate(kit.fuel, behind), kit.end)
    yield from _plain_kits(spec, least_reach, tools, found)


def close_kits(spec: HallSpec, tools: Tools) -> Iterator[Kit]:
    """Kits of close wings, one for each cross-section whose schemes serve. (Halls with one input have no room for what
    stands in front of such wings.)"""
    for section in SECTIONS if spec.inputs is None else ():
        if all(section.scheme(stream.enters) in serving(stream) for stream in spec.streams):
            share = replace(tools, budget=tools.budget.part(SHARE))
            kit = _close_kit(spec, section, share)
            if kit is not None:
                yield kit


def _close_kit(spec: HallSpec, section: Section, tools: Tools) -> Kit | None:
    """First the fuel row, then the feed row beside it."""

    def asked(face: Face, barred: Barred = frozenset()) -> PieceRequest:
        return PieceRequest(
            section.lane(face), section.scheme(face).name, spec.rules, handovers_for(spec), end=STRAIGHT_ON,
            barred=barred, room=CLOSE_ROOM, section=section, seed=tools.seed,
        )  # fmt: skip

    fuel = _solved([asked("side")], tools).get(asked("side"))
    if fuel is None:
        return None
    beside = asked("top", barred_in_a_close_wing(fuel, smallest_number(section.scheme("top"), section)))
    feed = _solved([beside], tools).get(beside)
    return Kit(feed, fuel, beside.end) if feed is not None and rows_apart(feed, fuel, beside.end, spec.rules) else None


def may_be_gated(spec: HallSpec, stream: HallStream) -> bool:
    """A burst row of the stream, behind a gate, does what is asked of it."""
    return (
        stream.even_for == "stream"
        and stream.leftovers == "hold"
        and stream.scheme in (None, BATCHED.name)
        and BATCHED.outputs_most(spec.rules, spec.stack_of(stream.item)) >= BATCHED.outputs_least
    )


def _behind_a_gate(row: RowPieces, behind: Sequence[HallStream]) -> RowPieces:
    """The row under the scheme that has a gate in front, where its stream is one of these."""
    return replace(row, scheme=BATCHED.name) if any(one.enters == row.face for one in behind) else row


def _taken_at_once(spec: HallSpec, behind: Sequence[HallStream]) -> HallSpec:
    """The spec as it is asked of the rows alone: to those behind gates, loads come that are there at once."""
    streams = (
        replace(one, even_for="burst", leftovers="deliver", scheme=BURST.name) if one in behind else one
        for one in spec.streams
    )
    return replace(spec, streams=tuple(streams))


def _plain_kits(spec: HallSpec, least_reach: int | None, tools: Tools, found: bool) -> Iterator[Kit]:
    """Kits of rows without gates; ``found``: nothing need be searched for."""
    for relays in RELAYS:
        for end in ENDS:
            for pair in _pairs(spec, end, relays, tools):
                kit = _kept(pair, end, tools)
                if kit is not None:
                    found = found or _is_long_enough(kit, least_reach)
                    yield kit
    for relays in RELAYS if least_reach is not None else RELAYS[:1]:
        if found or tools.budget.is_over:
            return
        for kit in _searched(spec, relays, tools):
            found = found or _is_long_enough(kit, least_reach)
            yield kit


def _is_long_enough(kit: Kit, least: int | None) -> bool:
    return least is None or kit.longest >= least


@dataclass(frozen=True, slots=True)
class _Pair:
    """Requests for the two rows of a wing."""

    feed: PieceRequest
    fuel: PieceRequest


def _pairs(spec: HallSpec, end: End, relays: int, tools: Tools) -> list[_Pair]:
    """The most promising pair of schemes first."""
    feeds, fuels = (_requests(spec, stream, end, relays, tools) for stream in (spec.feed, spec.fuel_stream))
    ranked = sorted(product(range(len(feeds)), range(len(fuels))), key=lambda at: (sum(at), at))
    return [_Pair(feeds[i], fuels[j]) for i, j in ranked]


def _requests(spec: HallSpec, stream: HallStream, end: End, relays: int, tools: Tools) -> list[PieceRequest]:
    rules, handovers = spec.rules, handovers_for(spec)
    lane, spare = LANES[stream.enters], relays * spec.rules.relay_step
    return [
        PieceRequest(lane, scheme.name, rules, handovers, end=end, spare=spare, seed=tools.seed)
        for scheme in serving(stream)
    ]


def _ways(pair: _Pair, fuel: RowPieces) -> Iterator[PieceRequest]:
    """The feed row that goes with a fuel row: one that knows nothing of it, and one that keeps away from it."""
    yield pair.feed
    n = smallest_number(scheme_named(pair.feed.scheme))
    yield replace(pair.feed, barred=barred_beside(fuel, pair.feed.lane, n))


def _kept(pair: _Pair, end: End, tools: Tools) -> Kit | None:
    fuel = tools.file.find(pair.fuel)
    for asked in _ways(pair, fuel) if fuel is not None else ():
        feed = tools.file.find(asked)
        if fuel is not None and feed is not None:
            kit = _agreed(Kit(feed, fuel, end), _Pair(asked, pair.fuel), tools.file.find)
            if kit is not None:
                return kit
    return None


def _agreed(kit: Kit, asked: _Pair, find: Callable[[PieceRequest], RowPieces | None]) -> Kit | None:
    """The kit, or one with a fuel row, or else a feed row, that keeps away from where the two met, again and again;
    None: not found."""
    for _ in range(ROUNDS):
        if rows_apart(kit.feed, kit.fuel, kit.end, asked.feed.rules):
            return kit
        of_feed, of_fuel = where_they_meet(kit.feed, kit.fuel, kit.end, asked.feed.rules)
        fuel = replace(asked.fuel, barred=asked.fuel.barred | of_fuel, like=kit.fuel)
        feed = replace(asked.feed, barred=asked.feed.barred | of_feed, like=kit.feed)
        if not of_fuel <= asked.fuel.barred and (pieces := find(fuel)) is not None:
            asked, kit = replace(asked, fuel=fuel), replace(kit, fuel=pieces)
        elif not of_feed <= asked.feed.barred and (pieces := find(feed)) is not None:
            asked, kit = replace(asked, feed=feed), replace(kit, feed=pieces)
        else:
            return None
    return None


def _searched(spec: HallSpec, relays: int, tools: Tools) -> Iterator[Kit]:
    """Kits of the first pair of schemes that gives any, one for each end: fuel rows first, then feed rows that keep
    away from them, or, where there are none, any; then the two are brought to agree."""
    for pairs in zip(*(_pairs(spec, end, relays, tools) for end in ENDS), strict=True):
        share = replace(tools, budget=tools.budget.part(SHARE))
        fuels = _solved([pair.fuel for pair in pairs], replace(share, budget=share.budget.part(FUEL_SHARE)))
        away = {pair: list(_ways(pair, fuels[pair.fuel]))[1] for pair in pairs if pair.fuel in fuels}
        feeds = _solved(list(away.values()), replace(share, budget=share.budget.part(FEED_SHARE)))
        alone = {pair: pair.feed for pair, asked in away.items() if asked not in feeds}
        feeds |= _solved(list(alone.values()), replace(share, budget=share.budget.part(FEED_SHARE)))
        found = False
        for pair, asked in (away | alone).items():
            if asked in feeds:
                kit = Kit(feeds[asked], fuels[pair.fuel], asked.end)
                agreed = _agreed(kit, _Pair(asked, pair.fuel), partial(_solved_alone, share))
                if agreed is not None:
                    found = True
                    yield agreed
        if found or tools.budget.is_over:
            return


def _solved_alone(tools: Tools, request: PieceRequest) -> RowPieces | None:
    return _solved([request], replace(tools, budget=tools.budget.part(ROUND_SHARE))).get(request)


def _solved(requests: Sequence[PieceRequest], tools: Tools) -> dict[PieceRequest, RowPieces]:
    have = {one: pieces for one in requests if (pieces := tools.file.find(one)) is not None}
    missing = [one for one in requests if one not in have]
    if tools.budget.is_over:
        return have
    for request, pieces in pieces_of(missing, tools.budget, tools.workers, tools.told, tools.slots):
        if pieces is not None:
            have[request] = pieces
            tools.file.keep(request, pieces)
    return have
