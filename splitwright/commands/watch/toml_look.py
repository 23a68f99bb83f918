"""A look at a spec of either sort: what the file states may be another at each save."""

from __future__ import annotations

import threading
from pathlib import Path

from splitwright.commands.watch.hall_look import HallLook, HallNews
from splitwright.commands.watch.spec_look import SpecLook, SpecNews
from synth.hall.spec_file import is_hall


class TomlLook:
    """Looks at the spec at ``path``, of a split or of a whole hall, each for ``limit_s`` seconds at the most.
    ``quiet``: nothing is told of a split before the look has ended."""

    def __init__(self, path: Path, limit_s: float, quiet: bool = False) -> None:
        self.path, self.limit_s, self.quiet = path, limit_s, quiet

    def __call__(self, stop: threading.Event) -> SpecNews | HallNews:
        """One look, as far as it came when ``stop`` was set. Raises InputError for a fault of the file."""
        if is_hall(self.path):
            return HallLook(self.path, self.limit_s)(stop)
        return SpecLook(self.path, self.limit_s, self.quiet)(stop)
