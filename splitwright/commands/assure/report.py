"""The answers of ``assure``: case files, the table of verdicts, and what it all comes to."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from rich.console import RenderableType

from sim.analysis.assure.asking import Assurance
from sim.analysis.assure.clearing import clearing_told, without_an_output
from sim.analysis.assure.figures import Figures
from sim.analysis.assure.operating import operating
from sim.analysis.assure.uses import Use, UseTold, uses_told
from sim.analysis.assure.verdict import Counterexample, Verdict
from sim.errors import InputError
from sim.world.case_file import case_document
from sim.world.files.places import printable
from sim.world.files.writing import write_text
from sim.world.geometry import cell_text
from sim.world.layout import Layout
from sim.world.rulebook import default_rules
from splitwright.cli.explaining import explanation_of_case
from splitwright.cli.tables import plain_table
from splitwright.words import english
from splitwright.words.uses import use_lines


@dataclass(slots=True)
class CaseFolder:
    """Where counterexamples are written, one file each; made when there is one. Raises InputError when it cannot be."""

    folder: Path
    files: dict[int, Path] = field(default_factory=dict)
    _taken: set[str] = field(default_factory=set)

    def note(self, verdict: Verdict) -> None:
        """Write the counterexample of a verdict, if it has one."""
        if verdict.counterexample is None:
            return
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise InputError(f"cannot be made a folder ({error.strerror})", file=str(self.folder)) from error
        path = self.folder / f"{self._name(verdict)}.json"
        write_text(path, json.dumps(case_document(verdict.counterexample.case), ensure_ascii=False, indent=1) + "\n")
        self.files[id(verdict)] = path

    def names(self) -> list[str]:
        """The files, in the order of the verdicts."""
        return [str(path) for path in self.files.values()]

    def _name(self, verdict: Verdict) -> str:
        """question-handover, with a number behind it from the second one on."""
        plain = verdict.question if verdict.handover is None else f"{verdict.question}-{verdict.handover}"
        name, number = plain, 1
        while name in self._taken:
            number += 1
            name = f"{plain}-{number}"
        self._taken.add(name)
        return name


def assurance_report(
    found: Assurance, folder: CaseFolder, layout: Layout, path: Path, quiet: bool, verbose: bool = False
) -> Iterator[RenderableType]:
    """The answer (``quiet``: that alone), how each use goes, how to run it; ``verbose``: the table of verdicts with
    their cases and scopes, and the figures. ``path``: the layout's file.
    """
    uses = uses_told(layout, found.verdicts)
    yield _sentence(found, uses)
    if quiet:
        return
    yield from (f"- {printable(line)}" for line in use_lines(uses, english()))
    yield from _advice(found, layout)
    yield ""
    if verbose:
        yield _verdict_table(found, folder, layout)
        yield ""
        yield from map(_figures_line, found.figures)
    if folder.files:
        example = next(iter(folder.files.values()))
        run = f"splitwright trial {printable(str(path))} --case {printable(str(example))}"
        yield f"Cases that go wrong are in {printable(str(folder.folder))}; see one: {run}"
    if not verbose:
        yield "Every question with its cases and what it is about: -v"


def _verdict_table(found: Assurance, folder: CaseFolder, layout: Layout) -> RenderableType:
    """Beside each counterexample: where it went wrong, from its case run once more."""
    columns = ("question", "handover", "verdict", "cases", "what was asked: what was seen")
    table = plain_table(*columns, right=("cases",))
    for group in _alike(found.verdicts):
        verdict = group[0]
        handovers = ", ".join(str(one.handover) for one in group if one.handover is not None)
        cases = "/".join(dict.fromkeys(f"{one.cases:,}" for one in group))
        told = printable(f"{verdict.scope}: {verdict.text}")
        if verdict.counterexample is not None:
            told += _where(layout, verdict.counterexample)
        if (file := folder.files.get(id(verdict))) is not None:
            told += f" [{file.name}]"
        table.add_row(verdict.question, handovers, verdict.verdict, cases, told)
    return table


def _advice(found: Assurance, layout: Layout) -> Iterator[str]:
    """How to run it, a sentence a line, behind a line that says so."""
    advice = operating(layout, found.verdicts, layout.rules_in_force(default_rules()))
    if found.figures:
        figures = found.figures[0]
        if figures.leftovers is not None:
            advice += clearing_told(layout, figures.leftovers)
        advice += without_an_output(layout, figures.load, default_rules())
    if advice:
        words = english()
        yield ""
        yield f"{words.text('operating.heading')}:"
        yield from (f"- {printable(words.text(one))}" for one in advice)


def _where(layout: Layout, counterexample: Counterexample) -> str:
    """``. In tick 15 ...``: what went wrong in a case (nothing where it shows something else than a split)."""
    sentence = explanation_of_case(layout, counterexample.case, counterexample.stream)
    return f". {sentence.removesuffix('.')}" if sentence else ""


def _alike(verdicts: Sequence[Verdict]) -> list[list[Verdict]]:
    """Verdicts that differ in handover, cases and time alone, together."""
    groups: dict[object, list[Verdict]] = {}
    for one in verdicts:
        key = (one.question, one.scope, one.verdict, one.text) if one.counterexample is None else id(one)
        groups.setdefault(key, []).append(one)
    return list(groups.values())


def _figures_line(figures: Figures) -> str:
    parts = [f"Handover {figures.handover}"]
    for one in figures.steady or ():
        share = f"{float(one.share) * 100:.4g} % of what its node can pass"
        parts.append(f"steady flow of {printable(one.stream)} {one.items} items in {one.ticks} ticks, {share}")
    for fair in figures.fairness:
        shares = " / ".join(map(str, fair.delivered))
        parts.append(
            f"a load of {figures.load} a target comes to {shares}, Jain's index {float(fair.jain):.4g}, "
            f"largest lag {fair.largest_lag}"
        )
    held = ", ".join(f"{count} at {cell_text(cell)}" for cell, count in figures.held)
    parts.append(f"left in nodes at rest: {held or 'nothing'}")
    return "; ".join(parts) + "."


def _delivers(figures: Figures) -> bool:
    """Something comes to the outputs, by the default load or in steady flow."""
    return any(sum(one.delivered) for one in figures.fairness) or any(one.items for one in figures.steady or ())


GOOD: Final = ("proved", "tried")
BRIEFLY: Final[Mapping[Use, str]] = {
    "whole": "whole loads at once",
    "whole_again": "whole loads in turn",
    "any": "any number at once",
    "any_again": "any numbers in turn",
    "trickling": "trickling in",
    "orders": "small loads in any update order",
    "handover": "both handovers",
    "overheating": "inverters in use",
}
"""Each use in a word or three, for the one line of the answer."""


def _sentence(found: Assurance, uses: Sequence[UseTold]) -> str:
    """The answer in one line: for what it is even, and for what not."""
    harm = dict.fromkeys(one.scope for one in found.verdicts if one.verdict == "refuted" and not one.decides)
    end = f"; spoilt by {' and by '.join(harm)}" if harm else ""
    end += "." if found.complete else "; stopped by Ctrl-C."
    if found.figures and not any(map(_delivers, found.figures)):
        return f"Nothing comes out, so there is nothing to be even{end}"
    good = ", ".join(_briefly_good(one) for one in uses if one.holds in GOOD and one.use != "overheating")
    bad = ", ".join(_brief(one) for one in uses if one.holds in ("refuted", "mixed"))
    still_open = ", ".join(BRIEFLY[one.use] for one in uses if one.holds == "open")
    if found.is_refuted:
        even = f"Not always even: yes for {good}; no" if good else "Not even"
        return f"{even} for {bad or 'all that was asked'}{f'; not decided: {still_open}' if still_open else ''}{end}"
    if still_open or not found.complete:
        even = f"No uneven case found: even for {good}; " if good else ""
        return f"{even}{'not' if even else 'Not'} decided: {still_open or 'what was not come to'}{end}"
    if not any(one.decides for one in found.verdicts):
        return f"Nothing was asked that decides whether it is even{end}"
    if not good:
        return f"No inverter overheats in what was asked{end}"
    return f"Even for {good}{end}"


def _briefly_good(told: UseTold) -> str:
    """With how it is known where not by a proof, and from which load on where a smaller whole one only waits."""
    least = {answer.values["least"] for _, answer in told.answers if told.use == "whole" and "least" in answer.values}
    start = "".join(f" (from {one} items on)" for one in least)
    return f"{BRIEFLY[told.use]}{start}{'' if told.holds == 'proved' else ' (tried)'}"


def _brief(told: UseTold) -> str:
    """With the handovers under which it fails, where it does not under each."""
    if told.use == "overheating":
        return "its inverters (one overheats)"
    failing = [h for h, answer in told.answers if answer.key.startswith(("goes.not", "goes.no_rest"))]
    under = f" at handover {' and '.join(map(str, failing))}" if told.holds == "mixed" and failing else ""
    return f"{BRIEFLY[told.use]}{under}"
