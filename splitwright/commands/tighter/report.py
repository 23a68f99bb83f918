"""The answer of ``tighter`` for people: the question, the verdict, the best layout, what was ruled out and what not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rich.console import RenderableType

from sim.world.files.picture import layers_side_by_side
from sim.world.files.places import build_text, counted, printable
from sim.world.layout import Layout
from splitwright.cli.output import stdout_width, written
from splitwright.proposing.ladder_view import better_by, step_lines
from splitwright.proposing.report import (
    candidate_lines,
    claim_lines,
    legend_lines,
    next_step,
    proposal_table,
    scope_lines,
    shown_of,
)
from synth.ask.spec import Spec
from synth.confirm.built import box_of
from synth.confirm.proposal import Proposal
from synth.read.layout import StreamReading, asked_scheme
from synth.search.result import Answer


@dataclass(frozen=True, slots=True)
class Given:
    """The layout to be bettered, what was read off it, and it with its measures (None: it fails its trials)."""

    file: str
    layout: Layout
    readings: Sequence[StreamReading]
    proposal: Proposal | None

    def lines(self) -> Iterator[str]:
        """The question that was read off."""
        yield f"{self.file}: {build_text(box_of(self.layout), len(self.layout.parts))}"
        for reading in self.readings:
            yield from reading.sentences()
        if self.proposal is None:
            yield "  it does not pass every trial itself; any layout that does in as many cells is an answer"
        name = asked_scheme(self.readings).name
        yield f"What follows is about layouts of one scheme, the {name}; a spec asks for all that serve it."

    def as_json(self) -> dict[str, Any]:
        """What was given, for ``--json``."""
        measures = self.proposal.measures.as_json() if self.proposal else None
        return {"box": list(box_of(self.layout)), "parts": len(self.layout.parts), "measures": measures}


def tighter_report(
    spec: Spec,
    given: Given | None,
    answer: Answer,
    files: Sequence[Path],
    quiet: bool,
    scope: bool = False,
    verbose: bool = False,
) -> list[RenderableType]:
    """Everything that is printed, in order: the answer and how far each measure has come (``quiet``: that and the
    files), what was asked, the layouts. ``scope``: every proof and what it is about, in full; ``verbose``: what was
    tried of each layout, and that too."""
    lines: list[RenderableType] = [_verdict(spec, given, answer)]
    if files:
        lines += [written(files)]
    if quiet:
        return lines
    lines += [f"  {line}" for line in step_lines(answer.steps)]
    if answer.proposals:
        lines += next_step(files)
    if given is not None:
        lines += ["", *given.lines()]
    if answer.proposals:
        best = answer.proposals[0]
        lines += ["", proposal_table(answer.proposals, verbose), "", "The first one, north at the top:", ""]
        lines += [*layers_side_by_side(best.layout, stdout_width(), spec.blocked), ""]
        lines += legend_lines(best, spec.blocked)
    lines += [""]
    if verbose:
        lines += shown_of(spec, answer.proposals)
    if scope or verbose:
        lines += [*claim_lines(answer.claims), *candidate_lines(answer.claims)]
    lines += scope_lines(spec, answer, scope)
    return lines


def _instead(given: Given, best: Proposal) -> str:
    """``: 64 cells in place of 144, 39 parts in place of 59``; nothing of a layout that fails its own trials."""
    if given.proposal is None:
        return ""
    new, old = best.measures, given.proposal.measures
    return f": {new.volume} cells in place of {old.volume}, {new.parts} parts in place of {old.parts}"


def _verdict(spec: Spec, given: Given | None, answer: Answer) -> str:
    what = f"{printable(spec.title) or 'untitled'}: {counted(spec.outputs, 'furnace')}"
    least = bool(answer.steps) and answer.steps[0].proved
    none_better = f"none {better_by(answer.steps[0].measure)} exists" if least else ""
    if given is not None:
        if answer.proposals:
            proved = f", and {none_better} (proved; scope below)" if least else ""
            return f"{what}: yes, there is a tighter one{_instead(given, answer.proposals[0])}{proved}."
        if answer.complete:
            none = "none exists in as many cells" if given.proposal is None else "none tighter exists"
            return f"{what}: no, {none} (proved; scope below)."
        return f"{what}: none tighter was found within the limit; that is no proof that none exists."
    if answer.proposals:
        if least:
            return f"{what}: {none_better} (proved; scope below)."
        return f"{what}: the best found; whether a better one exists is open."
    if answer.complete:
        return f"{what}: none exists in the site (proved; scope below)."
    return f"{what}: not found within the limit; that is no proof that none exists."
