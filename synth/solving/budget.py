"""What a search may spend: seconds until a moment, conflicts of a solver, refused candidates; a stop from outside."""

from __future__ import annotations

from dataclasses import dataclass
from time import monotonic
from typing import Literal, Protocol

Outcome = Literal["found", "none exists", "stopped"]
"""What a search comes to: something found, a proof that there is nothing, or an end before either."""


class Stop(Protocol):
    """Something that can ask for the end of a solve."""

    def is_set(self) -> bool:
        """The end is asked for."""


@dataclass(frozen=True, slots=True)
class AnyOf:
    """Set as soon as one of two is."""

    one: Stop
    other: Stop

    def is_set(self) -> bool:
        """The end is asked for."""
        return self.one.is_set() or self.other.is_set()


class Budget:
    """Until when a search may go on. ``stop`` ends it early. ``conflicts``, ``refusals``: how many it may meet (None:
    any number); what was met is counted by ``spend``."""

    def __init__(
        self, limit_s: float, stop: Stop | None = None, conflicts: int | None = None, refusals: int | None = None
    ) -> None:
        self._until, self._stop = monotonic() + limit_s, stop
        self._conflicts, self._refusals = conflicts, refusals

    @classmethod
    def until(cls, moment: float, stop: Stop | None = None) -> Budget:
        """A budget up to a moment of ``time.monotonic``."""
        return cls(moment - monotonic(), stop)

    @property
    def left(self) -> float:
        """Seconds left, not below 0."""
        return max(0.0, self._until - monotonic())

    @property
    def is_over(self) -> bool:
        """Nothing is left of something, or asked to stop."""
        return self.left == 0 or self.is_stopped or self._is_spent(self._conflicts) or self._is_spent(self._refusals)

    @property
    def is_stopped(self) -> bool:
        """Asked to stop."""
        return self._stop is not None and self._stop.is_set()

    @property
    def late_by(self) -> float:
        """Seconds since the end, not below 0."""
        return max(0.0, monotonic() - self._until)

    def spend(self, conflicts: int = 0, refusals: int = 0) -> None:
        """Count what was met."""
        if self._conflicts is not None:
            self._conflicts -= conflicts
        if self._refusals is not None:
            self._refusals -= refusals

    def part(self, share: float) -> Budget:
        """A budget of a share of the seconds that are left."""
        return Budget(self.left * share, self._stop)

    def with_refusals(self, refusals: int) -> Budget:
        """The same time, and so many candidates that may be refused."""
        return Budget(self.left, self._stop, refusals=refusals)

    @staticmethod
    def _is_spent(left: int | None) -> bool:
        return left is not None and left <= 0
