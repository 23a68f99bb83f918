"""What the judge accepts: a confirmed layout with its measures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from sim.analysis.assure.verdict import Verdict as Assured
from sim.world.files.layout_json import layout_to_json
from sim.world.layout import Layout
from synth.ask.spec import EvenFor
from synth.confirm.measures import Measures

Shown = Literal["shown", "refuted", "open"]
"""Of all that a spec demands of a layout: shown, or something refuted, or not shown within the limits."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A layout that the simulator has confirmed, and the name of its scheme.

    ``even_for``: what its trials were about, full loads alone or any arrivals too. ``verdicts``: what is shown of when
    it splits evenly (empty: not asked). ``in_scope``: it is one of those that claims are about (``membership``).
    """

    layout: Layout
    measures: Measures
    scheme: str = ""
    even_for: EvenFor = "burst"
    in_scope: bool = True
    verdicts: tuple[Assured, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """The layout with all that is known of it."""
        return {
            "layout": layout_to_json(self.layout),
            "measures": self.measures.as_json(),
            "scheme": self.scheme,
            "even_for": self.even_for,
            "steady": None if self.measures.steady is None else round(self.measures.steady, 1),
            "held": self.measures.held,
            "held_at_start": self.measures.held_at_start,
            "verdicts": [verdict.as_json() for verdict in self.verdicts],
        }
