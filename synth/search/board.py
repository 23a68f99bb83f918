"""What a search has found so far, of all its sources: shared by threads, told as it comes, ranked at the end."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence

from synth.confirm.measures import rank_key
from synth.confirm.proposal import Proposal
from synth.model.images import canonical_key
from synth.search.front import best_ones, profile


class Board:
    """The layouts found, each once whatever way it is turned. ``order``: the spec's ranking. ``found`` is called with
    each layout that is better than all before it in something that counts (``synth/search/front``), one call at a
    time."""

    def __init__(self, order: tuple[str, ...], found: Callable[[Proposal], None]) -> None:
        self._order, self._found = order, found
        self._lock = threading.Lock()
        self._by_key: dict[object, Proposal] = {}
        self._closed = False

    def put(self, proposal: Proposal, *, told: bool = True) -> None:
        """One more layout; nothing where it, or an image of it, is there, or the board is closed."""
        key = canonical_key(proposal.layout)
        with self._lock:
            known = self._by_key.get(key)
            if self._closed or (known is not None and not _is_wider(proposal, known)):
                return
            self._by_key[key] = proposal
            if told and any(one is proposal for one in best_ones(list(self._by_key.values()), self._order)):
                self._found(proposal)

    def close(self) -> None:
        """Nothing is taken any more: the answer is being written."""
        with self._lock:
            self._closed = True

    @property
    def is_closed(self) -> bool:
        """Nothing is taken any more."""
        return self._closed

    def all(self) -> list[Proposal]:
        """Every layout, the best first."""
        with self._lock:
            return sorted(self._by_key.values(), key=lambda one: profile(one, self._order))

    def front(self) -> list[Proposal]:
        """Those that no other one is at least as good as in everything, the best first."""
        return best_ones(self.all(), self._order)

    def best(self, scheme: str, handovers: Sequence[int]) -> Proposal | None:
        """The best one of a scheme that works under all of ``handovers``, of those that claims are about."""
        needed = set(handovers)
        of_scheme = (
            one
            for one in self.all()
            if one.scheme == scheme and one.in_scope and needed <= set(one.measures.handovers)
        )
        return min(of_scheme, key=lambda one: rank_key(one.measures, self._order), default=None)

    def __len__(self) -> int:
        return len(self._by_key)


def _is_wider(proposal: Proposal, known: Proposal) -> bool:
    """It works under more handovers than an image of it (the update order turns with a layout), or is found to be one
    that claims are about."""
    if proposal.layout == known.layout:
        return proposal.in_scope and not known.in_scope
    return set(known.measures.handovers) < set(proposal.measures.handovers)
