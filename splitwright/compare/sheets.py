"""The pages of a search: a build sheet for each layout that it found, and one page that compares them."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from sim.analysis.assure.verdict import Verdict
from sim.world.files.writing import write_text
from splitwright.cli.spec_input import blocked_in, prices_of
from splitwright.compare.account import Account, account_of, account_of_hall
from splitwright.compare.comparison import Comparison, Rate, of_proposals
from splitwright.compare.links import address
from splitwright.compare.page import compare_html
from splitwright.sheet.html import sheet_html
from splitwright.sheet.request import SheetRequest
from splitwright.words import english
from synth.ask.hall_spec import HallSpec
from synth.ask.spec import Spec
from synth.confirm.proposal import Proposal
from synth.hall.result import HallAnswer, HallProposal
from synth.search.result import Answer

PAGE: Final = "compare.html"
Told = Callable[[str], None]


def split_pages(folder: Path, spec: Spec, answer: Answer, told: Told, stop: threading.Event) -> list[Path]:
    """The pages of a search for splits, in ``folder``, which is there; sheets first. ``told``: what is being done.

    Once ``stop`` is set no more sheets are made. Raises InputError when one cannot be written.
    """
    verdicts = [proposal.verdicts for proposal in answer.proposals]
    sheets = _sheets(folder, spec, answer.proposals, told, verdicts, stop)
    return _pages(folder, spec, answer.proposals, account_of(spec, answer, english()), "items", sheets)


def hall_pages(folder: Path, spec: HallSpec, answer: HallAnswer, told: Told, stop: threading.Event) -> list[Path]:
    """The pages of a search for halls, likewise."""
    sheets = _sheets(folder, spec, answer.proposals, told, [() for _ in answer.proposals], stop)
    return _pages(folder, spec, answer.proposals, account_of_hall(answer), "products", sheets)


def _sheets(
    folder: Path, spec: Spec | HallSpec, proposals: Sequence[Proposal | HallProposal], told: Told,
    verdicts: Sequence[tuple[Verdict, ...]], stop: threading.Event,
) -> dict[int, Path]:  # fmt: skip
    base = SheetRequest(prices=prices_of(spec), rulebook=spec.rulebook, limit_s=0)
    written = {}
    for number, (proposal, shown) in enumerate(zip(proposals, verdicts, strict=True), 1):
        if stop.is_set():
            break
        told(f"build sheet {number} of {len(proposals)}")
        path = folder / f"layout-{number}.html"
        asked = replace(base, verdicts=shown, blocked=blocked_in(spec, proposal.layout))
        write_text(path, sheet_html(proposal.layout, asked))
        written[number] = path
    return written


def _pages(
    folder: Path, spec: Spec | HallSpec, proposals: Sequence[Proposal | HallProposal], account: Account,
    rate: Rate, sheets: Mapping[int, Path],
) -> list[Path]:  # fmt: skip
    page = folder / PAGE
    links = {number: address(path, page) for number, path in sheets.items()}
    comparison = Comparison(
        of_proposals(proposals, spec.rules, links),
        spec.rules.ticks_per_second,
        order=spec.order,
        priced=bool(prices_of(spec)),
        rate=rate,
    )
    write_text(page, compare_html(comparison, english(), title=spec.title, account=account))
    return [*sheets.values(), page]
