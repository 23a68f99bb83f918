"""How even shares are: Jain's index and the discrepancy, both exact; and the largest lag over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

Share = int | Fraction


def jain_index(shares: Sequence[Share]) -> Fraction:
    """(sum of x)^2 / (n * sum of x^2): from 1/n, one has it all, to 1, all have the same.

    Shares that are all zero have index 1 by convention: nobody is put at a disadvantage. Raises ValueError for no
    shares, or for one below zero. Source: Jain, Chiu, Hawe: A quantitative measure of fairness and discrimination for
    resource allocation in shared computer systems, DEC-TR-301 (1984).
    """
    _check(shares)
    squares = sum((Fraction(share) ** 2 for share in shares), Fraction(0))
    return Fraction(sum(shares)) ** 2 / (len(shares) * squares) if squares else Fraction(1)


def is_even(shares: Sequence[int]) -> bool:
    """As even as the number of items allows: spread 0; or 1, where it is no multiple of the number of shares."""
    spread = max(shares, default=0) - min(shares, default=0)
    return spread <= (1 if shares and sum(shares) % len(shares) else 0)


def discrepancy(shares: Sequence[Share]) -> Fraction:
    """The largest |x - mean|: how far the worst share is from an equal one. Raises ValueError as ``jain_index``."""
    _check(shares)
    mean = Fraction(sum(shares)) / len(shares)
    return max(abs(share - mean) for share in shares)


@dataclass(slots=True)
class Lag:
    """The largest lag so far: most delivered minus least delivered, as it was at the end of some tick.

    ``tick``: that at whose end it was first reached; None while there was none.
    """

    largest: int = 0
    tick: int | None = None

    def after(self, tick: int, shares: Sequence[int]) -> Lag:
        """The lag with ``shares`` at the end of ``tick`` taken in."""
        lag = max(shares) - min(shares)
        return Lag(lag, tick) if lag > self.largest else self


def _check(shares: Sequence[Share]) -> None:
    if not shares or min(shares) < 0:
        raise ValueError("shares must be one or more numbers, none below zero")
