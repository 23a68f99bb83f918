"""What a run of a hall came to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from sim.analysis.production.balance import KindBalance
from sim.analysis.production.bounds import Bound
from sim.analysis.production.floor import Event
from sim.analysis.production.lines import ProductLine
from sim.analysis.production.stuck import Stuck
from sim.world.fairness import jain_index
from sim.world.geometry import Cell
from sim.world.world import Finding


@dataclass(frozen=True, slots=True)
class Idle:
    """Ticks of a furnace without progress, by the reason, of ``ticks``.

    ``no_feed``: its feed slot is empty; ``blocked``: what is in it does not fire; ``full``: no room for the product;
    ``no_fuel``: there is something to fire, but neither fire nor fuel.
    """

    ticks: int
    no_feed: int
    blocked: int
    full: int
    no_fuel: int

    @property
    def idle(self) -> int:
        """All of them."""
        return self.no_feed + self.blocked + self.full + self.no_fuel

    @property
    def starved(self) -> int:
        """Those for want of feed or fuel."""
        return self.no_feed + self.no_fuel

    @property
    def share(self) -> Fraction:
        """The idle share."""
        return Fraction(self.idle, self.ticks) if self.ticks else Fraction(0)


@dataclass(frozen=True, slots=True)
class FurnaceReport:
    """One furnace. ``whole``, ``after``: idle ticks in all and after warm-up; ``longest``: the longest stretch of them.

    ``fuel_left``: items in its fuel slot at the end; ``gone_at``: the tick after which it was taken away (None: never).
    """

    at: Cell
    fired: int
    lit: int
    whole: Idle
    after: Idle
    longest: int
    feed_left: int
    fuel_left: int
    product_left: int
    gone_at: int | None


@dataclass(frozen=True, slots=True)
class StreamReport:
    """What came to each output of a stream: items of its kind. ``role``: feed, fuel or other."""

    name: str
    role: str
    item: str
    outputs: tuple[Cell, ...]
    delivered: tuple[int, ...]

    @property
    def spread(self) -> int:
        """Most delivered minus least delivered."""
        return max(self.delivered) - min(self.delivered)

    @property
    def jain(self) -> Fraction:
        """Jain's index of what was delivered."""
        return jain_index(self.delivered)


@dataclass(frozen=True, slots=True)
class Expectation:
    """What was to come of an incident, and whether it did."""

    text: str
    met: bool


@dataclass(frozen=True, slots=True)
class IncidentReport:
    """One incident from beginning to end. Ticks; output in products that came to product bins, an hour of world time.

    ``warm_up``: the tick at whose end it was over; ``output``: an hour, after warm-up; ``came``: products in all.
    """

    name: str
    about: str
    ticks: int
    warm_up: int
    refill_minutes: int
    came: int
    output: Fraction
    bounds: tuple[Bound, ...]
    balance: tuple[KindBalance, ...]
    furnaces: tuple[FurnaceReport, ...]
    streams: tuple[StreamReport, ...]
    lines: tuple[ProductLine, ...]
    stuck: tuple[Stuck, ...]
    events: tuple[Event, ...]
    findings: tuple[Finding, ...]
    expectations: tuple[Expectation, ...]

    @property
    def passed(self) -> bool:
        """Everything came out as it was to."""
        return all(one.met for one in self.expectations)

    @property
    def bound(self) -> Bound:
        """The bound that decides."""
        return min(self.bounds, key=lambda one: one.per_hour)

    @property
    def shares(self) -> tuple[int, ...]:
        """Items fired by each furnace that was there to the end."""
        return tuple(one.fired for one in self.furnaces if one.gone_at is None)

    @property
    def spread(self) -> int:
        """Most fired minus least fired, of the furnaces that were there to the end."""
        return max(self.shares, default=0) - min(self.shares, default=0)

    @property
    def jain(self) -> Fraction:
        """Jain's index of the items fired by the furnaces that were there to the end."""
        return jain_index(self.shares) if self.shares else Fraction(1)

    @property
    def lit(self) -> int:
        """Fires lit in all."""
        return sum(one.lit for one in self.furnaces)

    @property
    def fuel_left(self) -> int:
        """Items in the fuel slots of the furnaces at the end."""
        return sum(one.fuel_left for one in self.furnaces)

    @property
    def starved(self) -> tuple[FurnaceReport, ...]:
        """Furnaces that wanted feed or fuel after warm-up."""
        return tuple(one for one in self.furnaces if one.after.starved)

    @property
    def lost(self) -> int:
        """Items that are missing or came from nowhere, of all kinds."""
        return sum(abs(one.lost) for one in self.balance)


def all_passed(reports: Sequence[IncidentReport]) -> bool:
    """Every incident came out as it was to."""
    return all(report.passed for report in reports)
