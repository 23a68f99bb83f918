"""CaDiCaL with preferences: where nothing says otherwise, a cell is tried as it stands."""

from __future__ import annotations

from collections.abc import Iterable

from synth.model.clauses import FALSE, TRUE, Lit
from synth.solving.cadical import Cadical


class Leaning(Cadical):
    """As ``Cadical``; nothing that is proved depends on the preferences."""

    def prefer(self, literals: Iterable[Lit]) -> None:
        """Decide these variables so that the literals hold, wherever the solver has to choose."""
        self._solver.set_phases([lit for lit in literals if lit not in (TRUE, FALSE)])
