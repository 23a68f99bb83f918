"""Build sheets as the command writes them, each made once in a run of tests."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from commands import LAYOUTS, run


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


def trial_of(layout: str, *options: str) -> dict[str, Any]:
    """What ``trial --json`` says of a plan in specs/layouts."""
    found: dict[str, Any] = json.loads(run("trial", str(LAYOUTS / f"{layout}.plan"), "--json", *options).stdout)
    return found


def document_of(layout: str) -> dict[str, Any]:
    """A plan in specs/layouts as a layout document."""
    found: dict[str, Any] = json.loads(run("draw", str(LAYOUTS / f"{layout}.plan"), "--as", "json").stdout)
    return found
