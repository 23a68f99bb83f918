"""A look at a spec: the search of ``splitwright propose``, within a time limit, for the best layout alone."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from time import monotonic

from splitwright.cli.output import say
from splitwright.cli.spec_input import known_spec
from splitwright.proposing.options import mebibytes_of
from splitwright.proposing.report import found_line
from synth.answer.answering import answered
from synth.ask.spec import Spec
from synth.confirm.proposal import Proposal
from synth.search.known.cache import Cache, default_file
from synth.search.known.source import shipped
from synth.search.request import Request
from synth.search.result import Answer


@dataclass(frozen=True, slots=True)
class SpecNews:
    """What one look at a spec came to; where it has no layout, with what stands in the way."""

    spec: Spec
    answer: Answer


class SpecLook:
    """Looks at the spec at ``path``, each for ``limit_s`` seconds at the most; a line on standard error for each better
    layout, as soon as it is confirmed, unless ``quiet``."""

    def __init__(self, path: Path, limit_s: float, quiet: bool = False) -> None:
        self.path, self.limit_s, self.quiet = path, limit_s, quiet

    def __call__(self, stop: threading.Event) -> SpecNews:
        """One look, as far as it came when ``stop`` was set. Raises InputError for a fault of the file."""
        spec = known_spec(self.path)
        kept = Cache(default_file())
        request = Request(
            1, self.limit_s, os.cpu_count() or 1, mebibytes=mebibytes_of(None), stores=(kept, *shipped()), cache=kept,
            stop=stop, found=self._found(monotonic()),
        )  # fmt: skip
        return SpecNews(spec, answered(spec, request))

    def _found(self, began: float) -> Callable[[Proposal], None]:
        return lambda proposal: None if self.quiet else say(found_line(monotonic() - began, proposal))
