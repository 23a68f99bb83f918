"""Ctrl-C that keeps what was found so far: noted when it comes, acted on where the work is in a clean state."""

from __future__ import annotations

import signal
import threading
from types import FrameType, TracebackType
from typing import Any


class Interrupted(Exception):
    """Raised at the first clean place after Ctrl-C."""


class Interruption:
    """While entered, the first Ctrl-C is only noted; the second one interrupts at once, as ever.

    ``asked``: it has come. Nothing changes outside of the main thread, where signals cannot be handled, nor where the
    signal is ignored, as in a shell's background.
    """

    def __init__(self) -> None:
        self.asked = False
        self._before: Any = None

    def heed(self, *_: object) -> None:
        """Raise Interrupted if Ctrl-C has come (takes what a watcher is given, and looks at none of it)."""
        if self.asked:
            raise Interrupted

    def __enter__(self) -> Interruption:
        ignored = signal.getsignal(signal.SIGINT) is signal.SIG_IGN
        if threading.current_thread() is threading.main_thread() and not ignored:
            self._before = signal.signal(signal.SIGINT, self._note)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._before is not None:
            signal.signal(signal.SIGINT, self._before)

    def _note(self, _number: int, _frame: FrameType | None) -> None:
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True
