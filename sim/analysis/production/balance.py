"""Nothing is lost: an exact account by kind of item."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from sim.analysis.production.floor import Floor, total


@dataclass(frozen=True, slots=True)
class KindBalance:
    """What became of one kind: ``at_start + put_in + made = taken_out + fired + burnt + inside``, or something is lost.

    ``made``: products of firing; ``fired``: items that were fired to something; ``burnt``: fires lit with it.
    """

    kind: str
    at_start: int
    put_in: int
    made: int
    taken_out: int
    fired: int
    burnt: int
    inside: int

    @property
    def lost(self) -> int:
        """Items that are missing (below 0: that came from nowhere)."""
        return self.at_start + self.put_in + self.made - self.taken_out - self.fired - self.burnt - self.inside


def balance_of(floor: Floor) -> tuple[KindBalance, ...]:
    """The account of every kind that has turned up. Firing and fires are counted by the meters, all else by looking."""
    fired, burnt, inside = floor.used(floor.fired), floor.used(floor.lit), total(floor.contents())
    items = floor.run.tables.layout.items
    made: Counter[str] = Counter()
    for kind, count in fired.items():
        product = items[kind].fires_to
        assert product is not None
        made[product] += count
    kinds = sorted({*floor.at_start, *floor.put_in, *made, *floor.taken_out, *inside})
    return tuple(
        KindBalance(
            kind, floor.at_start[kind], floor.put_in[kind], made[kind], floor.taken_out[kind], fired[kind],
            burnt[kind], inside[kind],
        )
        for kind in kinds
    )
