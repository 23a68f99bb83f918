"""Who took an item out of turn: the first taking that was never made good again.

Of each output there is a list of the ticks in which an item was taken for it (``takes``). The rival is one that came
off worst. Another one that got more leads it in the end; let s be the tick since which it has been ahead at the end of
every tick, up to the end of the run: until s the two were level (or the rival ahead), from s on never again. In a run
that keeps its turns the rival would now take its own. Two things can happen instead:

* *twice*: the leader takes another one, in tick u (s or later), before the rival takes any: u is out of turn, since
  nobody takes two of one round;
* *alone*: the rival takes nothing more, or takes its own only when the leader takes again: then the taking of tick s
  itself was out of turn: a round that the rival had no part in.

So in either case one had more than the other at the end of that tick and of every later one. Of all leaders and rivals
the earliest such tick is told.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class OutOfTurn:
    """In ``tick`` output number ``leader`` had an item taken for it: its number ``had``, when ``rival`` had ``behind``.

    ``twice``: its second in a row, without one for the rival in between. Counts are those at the end of the tick.
    """

    tick: int
    leader: int
    rival: int
    had: int
    behind: int
    twice: bool


def out_of_turn(takes: Sequence[Sequence[int]]) -> OutOfTurn | None:
    """The earliest taking out of turn; None: all have had the same.

    ``takes``: ticks in ascending order, by output. Of several in one tick that of the greater lead in the end is told,
    then that of the outputs named first. Time: linear in the takes, for each pair of a leader and a rival.
    """
    totals = [len(of) for of in takes]
    found = sorted(
        _pairs(takes, totals), key=lambda one: (one.tick, totals[one.rival] - totals[one.leader], one.leader, one.rival)
    )
    return found[0] if found else None


def _pairs(takes: Sequence[Sequence[int]], totals: Sequence[int]) -> Iterator[OutOfTurn]:
    least = min(totals, default=0)
    for rival, total in enumerate(totals):
        if total == least:
            for leader, more in enumerate(totals):
                if more > total:
                    yield _between(leader, takes[leader], rival, takes[rival])


def _between(leader: int, its: Sequence[int], rival: int, others: Sequence[int]) -> OutOfTurn:
    """What went wrong between two of which the first has had more in the end."""
    since = its[_ahead_from(its, others)]
    first = bisect_left(its, since)
    again = its[first + 1] if first + 1 < len(its) else None
    next_other = bisect_left(others, since)
    other = others[next_other] if next_other < len(others) else None
    twice = again is not None and (other is None or again < other)
    tick = again if again is not None and twice else since
    return OutOfTurn(tick, leader, rival, bisect_right(its, tick), bisect_right(others, tick), twice)


def _ahead_from(its: Sequence[int], others: Sequence[int]) -> int:
    """The number (from 0) of the leader's taking with which it gets ahead for good.

    The lead can only come down to 0 when the rival takes one. At the end of the tick of the rival's taking i it has
    done so if the leader's taking i + 1 is still to come (there is one: the leader has more in the end).
    """
    for i in range(len(others) - 1, -1, -1):
        if others[i] < its[i + 1]:
            return i + 1
    return 0
