"""What comes of a search for the fewest changes."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from sim.world.layout import Layout
from sim.world.world import Finding
from synth.confirm.trials import TrialRecord
from synth.improve.differences import Change

Status = Literal["passes", "found", "none exists", "stopped"]
Proof = Literal["", "as it stands", "single changes", "model"]
"""What shows that no list is cheaper than the one found: it fails as it stands and no list costs less than one change;
every single change was tried in the simulator; the constraint model has none. Nothing shows it: ""."""


@dataclass(frozen=True, slots=True)
class Checked:
    """What the design checks and the trials say of a layout. ``needed``: the handovers that count; trials end at the
    first failure under one of these."""

    findings: tuple[Finding, ...]
    trials: tuple[TrialRecord, ...]
    needed: tuple[int, ...]

    @property
    def failed(self) -> tuple[TrialRecord, ...]:
        """The trials that did not pass, of those that count."""
        return tuple(one for one in self.trials if not one.passed and one.handover in self.needed)

    @property
    def handovers(self) -> tuple[int, ...]:
        """The handovers under which every trial passed."""
        tried = dict.fromkeys(one.handover for one in self.trials)
        return tuple(h for h in tried if all(one.passed for one in self.trials if one.handover == h))


@dataclass(frozen=True, slots=True)
class Attempt:
    """What is known of one scheme in one box: no list that costs less than ``least`` makes the build pass; ``settled``:
    nor any other up to the highest cost looked at, but what was found."""

    scheme: str
    room: int
    least: int
    settled: bool
    admitted: int
    refused: int
    seconds: float


@dataclass(slots=True)
class Improvement:
    """The answer.

    ``passes``: no change is needed. ``found``: ``changes`` lead to ``layout``; ``proof``: what shows that no list in
    ``room`` costs less, within ``scope``. ``none exists``: proved of ``room``, up to the cost ``most``, or of any cost
    where it is ``impossible``. ``room``: free cells around the site, on each side and above, that the claim is about.
    ``stopped``: a limit came first.
    ``singles``: so many single changes, all there are in the site, were tried, and none will do (0: not shown).
    ``schemes``: those of the rows, of a build whose rows are looked at one by one; ``rows``: the streams of those that
    do not work by themselves; ``output``: products an hour that such a build makes (None: it collects none).
    ``moved``: by how much every cell of ``layout`` lies farther than in the build's file, where the list needed room
    to the west or south.
    """

    status: Status
    build: Layout
    before: Checked
    layout: Layout | None = None
    after: Checked | None = None
    changes: list[Change] = field(default_factory=list)
    cost: int = 0
    most: int = 0
    proof: Proof = ""
    room: int = 0
    impossible: bool = False
    singles: int = 0
    scheme: str = ""
    schemes: tuple[str, ...] = ()
    rows: tuple[str, ...] = ()
    output: Fraction | None = None
    names: dict[tuple[int, int, int], str] = field(default_factory=dict)
    moved: tuple[int, int] = (0, 0)
    attempts: list[Attempt] = field(default_factory=list)
    scope: list[str] = field(default_factory=list)
    seconds: float = 0.0

    @property
    def proved(self) -> bool:
        """That no list in ``room`` is cheaper than the one found."""
        return bool(self.proof)
