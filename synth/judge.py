"""What becomes of a candidate: run in the simulator, stripped of what it works without, measured; or refused."""

from __future__ import annotations

from collections.abc import Sequence

from sim.checks import design_findings
from sim.layout import Layout
from synth.confirm import Confirmation, confirm, works_at_all
from synth.measures import measured
from synth.result import Proposal
from synth.spec import Spec
from synth.stripping import stripped


class Judge:
    """Judges candidates for one spec. ``needed``: the handovers under which a layout must pass every trial."""

    def __init__(self, spec: Spec, needed: Sequence[int]) -> None:
        self.spec, self.needed = spec, tuple(needed)

    def accepts(self, layout: Layout) -> bool:
        """Every trial passes under every needed handover, and no design check finds anything."""
        confirmed = set(self.needed) <= set(self._confirmation(layout).handovers)
        return confirmed and not design_findings(layout, self.spec.rules)

    def proposal(self, candidate: Layout) -> Proposal | None:
        """The candidate, confirmed, stripped and measured; None if it is refused."""
        if not self.accepts(candidate):
            return None
        rules = self.spec.rules
        core = stripped(candidate, rules, lambda one: works_at_all(one, rules, self.needed), self.accepts)
        return self.as_it_is(core)

    def refused_by_finding(self, layout: Layout) -> bool:
        """A refused layout may have been refused for some part's sake: not, or not only, for how it splits."""
        confirmation = self._confirmation(layout)
        failures = [failure.result for h in self.needed if (failure := confirmation.first_failure(h)) is not None]
        return not failures or any(one.findings or one.stopped or not one.at_rest for one in failures)

    def as_it_is(self, layout: Layout) -> Proposal:
        """The layout measured, without a question whether it is accepted."""
        return Proposal(layout, measured(layout, self._confirmation(layout), self.spec))

    def _confirmation(self, layout: Layout) -> Confirmation:
        return confirm(layout, self.spec.rules, needed=self.needed)
