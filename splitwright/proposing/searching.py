"""A search at work: each better layout told as it comes, and one line on how far it has come."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic
from typing import Final

from rich.console import Console
from rich.live import Live
from rich.spinner import Spinner

from splitwright.cli.background import in_background
from splitwright.cli.output import complain, say, stderr_is_terminal
from splitwright.proposing.ladder_view import best_line
from splitwright.proposing.report import found_line
from synth.confirm.proposal import Proposal
from synth.search.exact.ladder import Ladder
from synth.search.request import Request
from synth.search.result import Answer

REFRESHES_A_SECOND: Final = 4


def searched(request: Request, quiet: bool, search: Callable[[], Answer]) -> Answer:
    """The answer of ``search``, which is told by ``request.stop`` when Ctrl-C has come. What it raises is raised."""
    with _shown(request, quiet):
        answer = in_background(search, request.stop)
    if not quiet:
        for fault in dict.fromkeys(fault for store in request.stores for fault in store.faults):
            complain(fault)
    for fault in request.slots.faults if request.slots else ():
        complain(fault)
    return answer


@contextmanager
def _shown(request: Request, quiet: bool) -> Iterator[None]:
    """A line on standard error for each better layout; on a terminal, below these, how far the search has come."""
    if quiet:
        yield
        return
    view, keep = _View(), request.found

    def found(proposal: Proposal) -> None:
        keep(proposal)
        view.found(proposal)

    request.found = found
    if not stderr_is_terminal():
        yield
        return
    request.told, request.ladder = view.tell, view.climb
    with Live(get_renderable=view.rendered, console=Console(stderr=True, highlight=False, markup=False),
              refresh_per_second=REFRESHES_A_SECOND, transient=True):  # fmt: skip
        yield


class _View:
    def __init__(self) -> None:
        self._began = monotonic()
        self._line = "starting"
        self._spinner = Spinner("line")
        self._ladder: Ladder | None = None

    def tell(self, line: str) -> None:
        self._line = line

    def climb(self, ladder: Ladder) -> None:
        self._ladder = ladder

    def found(self, proposal: Proposal) -> None:
        say(found_line(monotonic() - self._began, proposal))

    def rendered(self) -> Spinner:
        how_far = "" if self._ladder is None else f"; {progress_line(self._ladder)}"
        self._spinner.update(text=f"{monotonic() - self._began:.0f} s  {self._line}{how_far}")
        return self._spinner


def progress_line(ladder: Ladder) -> str:
    """How far the exact search has come, in one line: best, bound, gap, what is left."""
    left = sum(rung.left for rung in ladder.rungs)
    gap = ""
    if ladder.best and ladder.bound is not None:
        gap = f", gap {(ladder.best - ladder.bound) / abs(ladder.best):.0%}"
    return f"{best_line(ladder)}{gap}, ways of the row left: {left}"
