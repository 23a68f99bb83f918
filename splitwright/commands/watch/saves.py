"""When a file was saved: by rename or in place, told once for each save, when it is all there."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from watchfiles import watch

PULSE_MS: Final = 100
"""Longest time between two looks at the file."""
SETTLED: Final = 2
"""Looks in a row that must agree before a save counts: an editor may write a file in several goes."""
GONE: Final = 5
"""The same for a file that is not there: an editor that saves by rename takes the old one away first."""

Print = tuple[int, int, int]
"""What tells one save from the next: the file's number, time of change and size."""


class Saves:
    """The saves of the file at ``path``. The folder is watched, not the file: saving by rename makes another file.

    A look compares the file with the one that was ``noted``, so no save is missed between two looks, whatever the
    events say (there are none on some network folders).
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._noted = self._before = _print_of(path)
        self._agreed = 0

    @property
    def is_there(self) -> bool:
        """The file was there when it was last noted."""
        return self._noted is not None

    def note(self) -> None:
        """From now on the file as it stands is the one that is known. To be called before it is read."""
        self._noted = self._before = _print_of(self.path)
        self._agreed = 0

    def has_come(self) -> bool:
        """The file is another than the one noted, and has been so for some looks; to be asked once a pulse."""
        now = _print_of(self.path)
        self._agreed = self._agreed + 1 if now == self._before else 1
        self._before = now
        return now != self._noted and self._agreed >= (GONE if now is None else SETTLED)

    def pulses(self) -> Iterator[None]:
        """Without end: when something happens to a file of that name in the folder, or after ``PULSE_MS``."""
        try:
            for _ in self._events():
                yield
        except (OSError, RuntimeError):  # the system has no watch to give (its number is limited): looks alone will do
            while True:
                time.sleep(PULSE_MS / 1000)
                yield

    def _events(self) -> Iterator[object]:
        return watch(
            self.path.parent,
            watch_filter=lambda _, path: Path(path).name == self.path.name,
            debounce=PULSE_MS,
            rust_timeout=PULSE_MS,
            yield_on_timeout=True,
            recursive=False,
        )


def _print_of(path: Path) -> Print | None:
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_ino, found.st_mtime_ns, found.st_size
