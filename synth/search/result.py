"""What a search answers with: proposals, and claims about boxes with their scope."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from synth.confirm.proposal import Proposal

Verdict = Literal["found", "none exists", "open"]
"""``none exists`` only after a proof of infeasibility; ``open``: stopped by a limit, or candidates were refused."""


@dataclass(frozen=True, slots=True)
class Claim:
    """What was shown of one box, of layouts of the ``scheme`` that work under all of ``handovers``.

    ``parts``, ``price``: the verdict is about layouts with at most that many parts, at most that price (None: any).
    ``implied_by``: the box that contains this one and was ruled out.
    ``admitted`` candidates came from the model, ``refused`` of them failed in the simulator. ``note`` says what limits
    the verdict.
    """

    box: tuple[int, int, int]
    verdict: Verdict
    seconds: float
    handovers: tuple[int, ...]
    parts: int | None = None
    admitted: int = 0
    refused: int = 0
    note: str = ""
    price: int | None = None
    implied_by: tuple[int, int, int] | None = None
    scheme: str = ""

    def as_json(self) -> dict[str, Any]:
        """The claim as it stands in ``--json`` documents."""
        return {
            "box": list(self.box),
            "verdict": self.verdict,
            "seconds": round(self.seconds, 2),
            "handovers": list(self.handovers),
            "parts": self.parts,
            "admitted": self.admitted,
            "refused": self.refused,
            "note": self.note,
            "price": self.price,
            "implied_by": list(self.implied_by) if self.implied_by else None,
            "scheme": self.scheme,
        }


@dataclass(frozen=True, slots=True)
class Step:
    """How far one measure of the ranking has come: the best value, the lower bound, whether it is proved the least.

    A step is proved only if the ones before it are. ``bound`` None: none is known.
    """

    measure: str
    value: float
    bound: float | None
    proved: bool

    def as_json(self) -> dict[str, Any]:
        """The step as it stands in ``--json`` documents."""
        return {"measure": self.measure, "value": self.value, "bound": self.bound, "proved": self.proved}


@dataclass(frozen=True, slots=True)
class Obstacle:
    """One limit of the spec that was relaxed alone; ``helps``: True shown, False shown not to, None unknown."""

    limit: str
    relaxed: str
    helps: bool | None


@dataclass(frozen=True, slots=True)
class Clash:
    """Limits of the spec that together rule out every layout: with just these in force, none exists (proved).

    ``limits``: each with what it was relaxed to; ``helps`` of one: with that one relaxed too there is a layout (True),
    or it was not decided (None; then the limit may have no part in it). ``beside``: what all other limits were relaxed
    to. ``text``: all of it in a sentence or two.
    """

    limits: tuple[Obstacle, ...]
    beside: tuple[str, ...]
    text: str

    @property
    def is_minimal(self) -> bool:
        """Shown of each limit that it cannot be left out."""
        return all(limit.helps for limit in self.limits)

    def as_json(self) -> dict[str, Any]:
        """The clash as it stands in ``--json`` documents."""
        return {
            "limits": [asdict(limit) for limit in self.limits],
            "beside": list(self.beside),
            "minimal": self.is_minimal,
            "text": self.text,
        }


@dataclass(slots=True)
class Answer:
    """All that one search has come to. ``schemes``: those that it was about, by name; a layout may be of any of them.

    ``lows``: lower bounds on measures, where there is no layout that a step could tell of.
    ``complete``: it ended by itself, not by a limit or Ctrl-C (``interrupted``). ``advice``: what to do next where
    there is no layout, in sentences. ``faults``: what was wrong with known builds, and did no harm.
    """

    proposals: list[Proposal] = field(default_factory=list)
    claims: list[Claim] = field(default_factory=list)
    obstacles: list[Obstacle] = field(default_factory=list)
    clashes: list[Clash] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)
    lows: Mapping[str, float] = field(default_factory=dict)
    scope: Sequence[str] = ()
    solver: str = ""
    seconds: float = 0.0
    complete: bool = True
    schemes: Sequence[str] = ("",)
    interrupted: bool = False
    advice: Sequence[str] = ()
    faults: Sequence[str] = ()

    def rules_out(self, site: tuple[int, int, int], handovers: Sequence[int]) -> bool:
        """It was proved that a site of that size holds no layout of any scheme that works under all of ``handovers``
        (no need to show it for more of them)."""
        return all(self._ruled_out(site, set(handovers), scheme) for scheme in self.schemes)

    def _ruled_out(self, site: tuple[int, int, int], handovers: set[int], scheme: str) -> bool:
        shape = (*sorted(site[:2]), site[2])
        return any(
            claim.verdict == "none exists"
            and claim.parts is None
            and claim.price is None
            and set(claim.handovers) <= handovers
            and claim.scheme == scheme
            and (*sorted(claim.box[:2]), claim.box[2]) == shape
            for claim in self.claims
        )

    def as_json(self) -> dict[str, Any]:
        """The document of ``propose --json``."""
        return {
            "format": "splitwright-proposals/1",
            "layouts": [proposal.as_json() for proposal in self.proposals],
            "claims": [claim.as_json() for claim in self.claims],
            "obstacles": [
                {"limit": o.limit, "relaxed": o.relaxed, "helps": o.helps} for o in self.obstacles
            ],
            "clashes": [clash.as_json() for clash in self.clashes],
            "steps": [step.as_json() for step in self.steps],
            "scope": list(self.scope),
            "solver": self.solver,
            "seconds": round(self.seconds, 2),
            "complete": self.complete,
            "interrupted": self.interrupted,
            "advice": list(self.advice),
        }
