"""A look at a spec of either sort: what the file states may be another at each save."""

from __future__ import annotations

import threading
from pathlib import Path

from splitwright.watching.hall_look import HallLook, HallNews
from splitwright.watching.spec_look import SpecLook, SpecNews
from synth.hall.spec_file import is_hall


class TomlLook:
    """Looks at the spec at ``path``, of a split or of a whole hall, each for ``limit_s`` seconds at the most."""

    def __init__(self, path: Path, limit_s: float) -> None:
        self.path, self.limit_s = path, limit_s

    def __call__(self, stop: threading.Event) -> SpecNews | HallNews:
        """One look, as far as it came when ``stop`` was set. Raises InputError for a fault of the file."""
        look = HallLook if is_hall(self.path) else SpecLook
        return look(self.path, self.limit_s)(stop)
