"""Work that must not outlast a moment: in a thread of its own, which nobody waits for after that."""

from __future__ import annotations

import threading
from collections.abc import Callable
from time import monotonic
from typing import Final, Generic, TypeVar

from synth.solving.budget import Stop

T = TypeVar("T")
POLL_S: Final = 0.05


class Aside(Generic[T]):
    """``work`` begun at once. ``outcome`` is what it returned, once it is ``done``; what it raised is raised there."""

    def __init__(self, work: Callable[[], T]) -> None:
        self._values: list[T] = []
        self._fault: BaseException | None = None
        self._work = work
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    @property
    def done(self) -> bool:
        """It has ended."""
        return not self._thread.is_alive()

    @property
    def outcome(self) -> T:
        """What came of it. Raises what it raised."""
        if self._fault is not None:
            raise self._fault
        return self._values[0]

    def wait(self, until: float, stop: Stop | None = None) -> bool:
        """Wait for it, until a moment of ``time.monotonic`` or a stop at the latest; whether it has ended."""
        while not self.done and monotonic() < until and not (stop is not None and stop.is_set()):
            self._thread.join(min(POLL_S, max(0.0, until - monotonic())))
        return self.done

    def _run(self) -> None:
        try:
            self._values.append(self._work())
        except BaseException as fault:
            self._fault = fault
