"""Writes docs/schemes.md: the smallest known build of each scheme for 2 to 16 kilns, side by side, from runs alone.

Run from the clone: make schemes. Each build is run in the simulator as any proposal is; with --seconds of assure's
questions for those that are even however the clay comes.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from typing import Final

from make_atlas import CLONE, spec_of
from rich.console import Console

from sim.analysis.assure.asking import Assurance, ask, warm_up
from sim.analysis.assure.request import Request
from sim.analysis.assure.verdict import Verdict
from sim.world.files.places import box_text
from sim.world.files.writing import write_text
from sim.world.rulebook import default_rules
from synth.confirm.judge import Judge
from synth.confirm.proposal import Proposal
from synth.schemes.registry import scheme_named
from synth.search.known.source import KnownBuilds, shipped
from synth.search.scope import required_handovers

PAGE: Final = CLONE / "docs" / "schemes.md"
SCHEMES: Final = ("burst row", "undrained row", "muster row", "brimmed row", "gated row", "batched row")
OUTPUTS: Final = range(2, 17)
SIDE: Final = 40
"""Of the site, which has room for every build."""
COLUMNS: Final = (
    *("kilns", "scheme", "box", "cells", "parts", "filled in first", "stay inside", "an hour", "handovers"),
    "shown even for",
)
console: Final = Console(stderr=True, highlight=False)


def smallest(scheme: str, outputs: int) -> Proposal | None:
    """The known build of the least volume that the judge takes, on open ground."""
    spec = spec_of(scheme, "top", outputs, (SIDE, SIDE, 9))
    judge = Judge(spec, required_handovers(spec))
    accepted = (one for one in KnownBuilds(shipped()).candidates(spec) if judge.accepts(one))
    return next((judge.as_it_is(one) for one in accepted), None)


def assured(proposal: Proposal, seconds: float) -> Assurance:
    """What ``assure`` finds of it, under the first handover that it works with."""
    warm_up()
    questions = ("load", "arrivals") if "stream" in scheme_named(proposal.scheme).even_for else ("load",)
    handover = proposal.measures.handovers[0]
    request = Request(limit_s=seconds, questions=questions, began=time.monotonic())
    return ask(proposal.layout, request, handovers=(handover,))


def _words(verdict: Verdict) -> str:
    about = {"multiples": "loads of k*N", "any number": "any one load", "": "every arrival"}[verdict.about]
    return f"{about}: {verdict.verdict}"


def row(proposal: Proposal, outputs: int, seconds: float) -> Sequence[str]:
    """The cells of the table."""
    m = proposal.measures
    handovers = " ".join(map(str, m.handovers))
    kept = max(0, m.held - m.held_at_start)
    found = assured(proposal, seconds)
    flow = next((one for figures in found.figures for one in figures.steady or ()), None)
    hour = 3600 * default_rules().ticks_per_second
    hourly = "not found" if flow is None else str(flow.items * hour // flow.ticks)
    shown = "; ".join(dict.fromkeys(_words(one) for one in found.verdicts)) + f" (handover {m.handovers[0]})"
    figures = [m.volume, m.parts, m.held_at_start, kept, hourly, handovers]
    return [str(outputs), proposal.scheme, box_text(m.box), *map(str, figures), shown]


def main() -> None:
    """The table, number by number."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0, help="for assure's questions of each build")
    parser.add_argument("--outputs", type=int, nargs="*", default=list(OUTPUTS))
    asked = parser.parse_args()
    rows = []
    for outputs in asked.outputs:
        for scheme in SCHEMES:
            found = smallest(scheme, outputs) if outputs >= scheme_named(scheme).outputs_least else None
            if found is not None:
                rows.append(row(found, outputs, asked.seconds))
                console.print(" | ".join(rows[-1]))
    table = [_line(COLUMNS), _line(["---"] * len(COLUMNS)), *map(_line, rows)]
    write_text(PAGE, "\n".join([*INTRODUCTION, *table, ""]))


def _line(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"


INTRODUCTION: Final = (
    "# The schemes side by side",
    "",
    "Made by `make schemes` from the builds that come with splitwright, each run in the simulator; not to be edited.",
    "Of each scheme the build with the fewest cells that is known for so many kilns, fed from the top, on open ground;",
    "that none is smaller is not said here (docs/results.md does, where proved). *Filled in first*: clay that nodes",
    "must hold at the start. *Stay inside*: the most that any trial left in the nodes beyond that. *An hour*: items in",
    "steady flow. *Handovers*: under which every trial passed.",
    "",
)


if __name__ == "__main__":
    main()
