"""The layouts of a search on disk, rank by rank, kept up to date while the search goes on."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

from sim.errors import InputError
from sim.world.files.layout_json import layout_json_text
from sim.world.files.plan_writer import layout_to_plan
from sim.world.files.writing import write_text
from sim.world.layout import Layout
from splitwright.cli.background import in_background
from splitwright.cli.progress import line_progress
from synth.ask.spec import Spec
from synth.confirm.proposal import Proposal
from synth.search.front import best_ones


class ProposalFolder:
    """Where ``--out`` puts the layouts (nowhere, if that is None). Raises InputError when there is no folder to be had.

    ``top``: how many are kept. ``lazily``: the folder is made when there is something to put in it.
    """

    def __init__(self, folder: Path | None, spec: Spec, top: int, *, lazily: bool = False) -> None:
        self.folder, self.spec, self.top = folder, spec, top
        self._so_far: list[Proposal] = []
        self._written: list[Path] = []
        if folder is not None and not lazily:
            _make(folder)

    def found(self, proposal: Proposal) -> None:
        """One more layout: the files are as good as what was found so far."""
        self._so_far.append(proposal)
        self.write(best_ones(self._so_far, self.spec.order)[: self.top])

    def write(self, proposals: Sequence[Proposal]) -> list[Path]:
        """The files of these layouts, best first; those written before for ranks that there are no more go."""
        if self.folder is None:
            return []
        written = write_layouts(self.folder, [proposal.layout for proposal in proposals]) if proposals else []
        for path in self._written:
            if path not in written:
                with suppress(OSError):
                    path.unlink()
        self._written = written
        return written


def write_layouts(folder: Path, layouts: Sequence[Layout]) -> list[Path]:
    """The files of these layouts, best first, each as JSON and as a plan; the folder is made. Raises InputError."""
    _make(folder)
    written = []
    for rank, layout in enumerate(layouts, 1):
        for suffix, text in (("json", layout_json_text(layout)), ("plan", layout_to_plan(layout))):
            path = folder / f"layout-{rank}.{suffix}"
            write_text(path, text)
            written.append(path)
    return written


def write_pages(
    quiet: bool, pages: Callable[[Callable[[str], None], threading.Event], list[Path]]
) -> list[Path]:
    """What ``pages`` has written, with its progress shown. Its event is set when Ctrl-C has come: then it leaves out
    what is not written yet."""
    stop = threading.Event()
    with line_progress(quiet) as told:
        return in_background(lambda: pages(told, stop), stop)


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"cannot be made a folder ({error.strerror})", file=str(folder)) from error
