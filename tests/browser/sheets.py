"""Build sheets as the command writes them, each made once in a run of tests; and answers to stand on them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from commands import LAYOUTS, run
from sim.analysis.assure.verdict import Counterexample, Verdict
from sim.world.case_file import Case, CaseArrival
from sim.world.files.reading import load_layout
from splitwright.sheet.html import sheet_html
from splitwright.sheet.request import SheetRequest

ANSWERS = (
    Verdict("load", "proved", "loads of 1 to 54", "every load is even", 54, 8),
    Verdict("load", "proved", "loads of 1 to 54", "every load is even", 54, 7),
    Verdict("gaps", "tried", "gaps from 1 to 99 ticks", "no gap is uneven", 99, 8),
    Verdict("orders", "open", "every update order", "a limit came first", 0, 8),
)
"""As if they had been given: what is tried here is how a page shows answers of each kind, not the answers."""
ONE_ITEM = Counterexample("feed", (1, 0, 0), Case(8, (CaseArrival(0, "feed", 1),), delivered={"feed": (1, 0, 0)}))
REFUTED = Verdict("arrivals", "refuted", "every arrival", "a single item", 1, 8, counterexample=ONE_ITEM)


class Sheets:
    """Makes sheets in a folder, and keeps them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._made: dict[tuple[str, ...], Path] = {}

    def of(self, layout: str | Path, *options: str) -> Path:
        """The sheet of a layout (the name of a plan in specs/layouts, or a path), with options of the command."""
        words = (str(layout if Path(layout).suffix else LAYOUTS / f"{layout}.plan"), *options)
        if words not in self._made:
            path = self.folder / f"{len(self._made)}.html"
            result = run("sheet", words[0], "--out", str(path), "--quiet", *options)
            assert (result.exit_code, result.stderr) == (0, ""), result.output
            self._made[words] = path
        return self._made[words]

    def answered(self, layout: str) -> Path:
        """The sheet of a plan with an answer of each kind on it, for the price of none."""
        words = (layout, "answered")
        if words not in self._made:
            path = self.folder / f"{len(self._made)}.html"
            made = sheet_html(load_layout(LAYOUTS / f"{layout}.plan"), SheetRequest(verdicts=(*ANSWERS, REFUTED)))
            path.write_text(made, encoding="utf-8")
            self._made[words] = path
        return self._made[words]


def trial_of(layout: str, *options: str) -> dict[str, Any]:
    """What ``trial --json`` says of a plan in specs/layouts."""
    found: dict[str, Any] = json.loads(run("trial", str(LAYOUTS / f"{layout}.plan"), "--json", *options).stdout)
    return found


def document_of(layout: str) -> dict[str, Any]:
    """A plan in specs/layouts as a layout document."""
    found: dict[str, Any] = json.loads(run("draw", str(LAYOUTS / f"{layout}.plan"), "--as", "json").stdout)
    return found
