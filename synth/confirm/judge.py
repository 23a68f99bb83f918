"""What becomes of a candidate: run in the simulator, stripped of what it works without, measured; or refused.

Stripped as far as it stays one of those layouts that claims are about (``membership``): to take a part away may change
what is locked when, and a layout may split evenly for other reasons than its scheme's.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.analysis.checks import design_findings
from sim.world.layout import Layout
from synth.ask.spec import Spec
from synth.confirm.confirmation import Confirmation, confirm, terms_of, works_at_all
from synth.confirm.measures import measured, steady_flow
from synth.confirm.membership import is_admitted
from synth.confirm.proposal import Proposal, Shown
from synth.confirm.stripping import stripped
from synth.model.plots import windows
from synth.schemes.registry import scheme_of


class Judge:
    """Judges candidates for one spec. ``needed``: the handovers under which a layout must pass every trial."""

    def __init__(self, spec: Spec, needed: Sequence[int]) -> None:
        self.spec, self.needed, self.terms = spec, tuple(needed), terms_of(spec)
        self._within = windows(spec, self.needed)
        self._last: tuple[Layout, Shown] | None = None

    def accepts(self, layout: Layout) -> bool:
        """Every trial passes under every needed handover, no design check finds anything, and what the spec demands is
        shown of it."""
        return self._passes(layout) and self._shown(layout) == "shown"

    def undecided(self, layout: Layout) -> bool:
        """All that keeps the layout from being accepted is that what the spec demands was not decided within limits."""
        return self._passes(layout) and self._shown(layout) == "open"

    def proposal(self, candidate: Layout) -> Proposal | None:
        """The candidate, a solution of the model, confirmed, stripped and measured; None if it is refused."""
        if not self.accepts(candidate):
            return None
        rules = self.spec.rules
        core = stripped(candidate, rules, lambda one: works_at_all(one, rules, self.needed, self.terms), self.takes)
        return self.as_it_is(core)

    def takes(self, layout: Layout) -> bool:
        """The layout is accepted, and is one of those that the claims of its search are about."""
        return self.accepts(layout) and is_admitted(layout, self.spec, self._within)

    def refused_by_finding(self, layout: Layout) -> bool:
        """A refused layout may have been refused for some part's sake: not, or not only, for how it splits."""
        confirmation = self._confirmation(layout)
        failures = [failure.result for h in self.needed if (failure := confirmation.first_failure(h)) is not None]
        if not failures:
            return self._is_fast(confirmation) and not (self._passes(layout) and self._shown(layout) == "refuted")
        return any(one.findings or one.stopped or not one.at_rest for one in failures)

    def as_it_is(self, layout: Layout) -> Proposal:
        """The layout measured, without a question whether it is accepted."""
        measures = measured(layout, self._confirmation(layout), self.spec)
        return Proposal(layout, measures, scheme_of(self.spec).name, self.spec.even_for)

    def _passes(self, layout: Layout) -> bool:
        confirmation = self._confirmation(layout)
        confirmed = set(self.needed) <= set(confirmation.handovers)
        return confirmed and self._is_fast(confirmation) and not design_findings(layout, self.spec.rules)

    def _shown(self, layout: Layout) -> Shown:
        """Whether what the spec demands beyond trials is shown; kept for the layout asked about last."""
        if not self.spec.demands.beyond_trials:
            return "shown"
        if self._last is None or self._last[0] != layout:
            from synth.confirm.shown import demands_met  # the compiled kernel is loaded where it is used alone

            self._last = layout, demands_met(layout, self.spec, self.needed)
        return self._last[1]

    def _confirmation(self, layout: Layout) -> Confirmation:
        return confirm(layout, self.spec.rules, needed=self.needed, terms=self.terms)

    def _is_fast(self, confirmation: Confirmation) -> bool:
        """The steady flow under each needed handover is what the spec demands."""
        least = self.spec.demands.throughput
        flows = (steady_flow(confirmation, handover, self.spec.rules) for handover in self.needed)
        return least is None or all(flow >= least for flow in flows)
