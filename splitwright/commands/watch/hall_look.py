"""A look at the spec of a hall: the search of ``splitwright propose``, within a time limit, for the best hall alone."""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass
from pathlib import Path

from splitwright.cli.output import complain
from splitwright.cli.spec_input import known_hall
from synth.ask.hall_spec import HallSpec
from synth.hall.piece_file import users_pieces
from synth.hall.result import HallAnswer
from synth.hall.search import HallRequest, propose_hall


@dataclass(frozen=True, slots=True)
class HallNews:
    """What one look at the spec of a hall came to; where it has no hall, with why those looked at were refused."""

    spec: HallSpec
    answer: HallAnswer


class HallLook:
    """Looks at the spec of a hall at ``path``, each for ``limit_s`` seconds at the most; pieces are taken from the
    user's cache and from those that come with splitwright, and new ones are kept, as ``propose`` does."""

    def __init__(self, path: Path, limit_s: float) -> None:
        self.path, self.limit_s = path, limit_s
        self._told = set[str]()

    def __call__(self, stop: threading.Event) -> HallNews:
        """One look, as far as it came when ``stop`` was set. Raises InputError for a fault of the spec."""
        spec = known_hall(self.path)
        kept = users_pieces()
        request = HallRequest(kept, top=1, limit_s=self.limit_s, workers=os.cpu_count() or 1, stop=stop)
        news = HallNews(spec, propose_hall(spec, request))
        for fault in kept.faults:
            if fault not in self._told:
                complain(fault)
                self._told.add(fault)
        return news
