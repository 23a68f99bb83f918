"""A search at work, with its progress shown."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic
from typing import Final

from rich.console import Console, Group
from rich.live import Live
from rich.spinner import Spinner

from splitwright.background import in_background
from splitwright.ladder_view import ladder_table
from splitwright.output import stderr_is_terminal
from synth.exact.ladder import Ladder
from synth.request import Request
from synth.result import Answer

REFRESHES_A_SECOND: Final = 4
RUNGS_SHOWN: Final = 16


def searched(request: Request, quiet: bool, search: Callable[[], Answer]) -> Answer:
    """The answer of ``search``, which is told by ``request.stop`` when Ctrl-C has come. What it raises is raised."""
    with _shown(request, quiet):
        return in_background(search, request.stop)


@contextmanager
def _shown(request: Request, quiet: bool) -> Iterator[None]:
    """The line on what is being done and the ladder of boxes, on a terminal; nothing else anywhere."""
    if quiet or not stderr_is_terminal():
        yield
        return
    view = _View()
    request.told, request.ladder = view.tell, view.climb
    with Live(get_renderable=view.rendered, console=Console(stderr=True), refresh_per_second=REFRESHES_A_SECOND,
              transient=True):  # fmt: skip
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
        self._line = f"{ladder.measure} as low as it goes" if ladder.measure else self._line

    def rendered(self) -> Group:
        self._spinner.update(text=f"{monotonic() - self._began:.0f} s  {self._line}")
        if self._ladder is None:
            return Group(self._spinner)
        return Group(self._spinner, *ladder_table(self._ladder, RUNGS_SHOWN))
