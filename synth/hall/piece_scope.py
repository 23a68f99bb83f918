"""Among which wirings the claims on pieces are proved, in sentences: worked out from the request, so that pieces which
were kept long ago are told with all their limits too."""

from __future__ import annotations

from collections.abc import Iterator

from sim.world.files.places import counted
from synth.hall.piece_question import longest_in_time, smallest_number, windows_of
from synth.hall.piece_request import PieceRequest
from synth.schemes.registry import scheme_named
from synth.search.scope import CHECKED, FILE_ORDER, model_limits


def limits_of(asked: PieceRequest) -> tuple[str, ...]:
    """What every claim on the pieces of a request is about, beside what the claim itself says."""
    return tuple(_limits(asked))


def _limits(asked: PieceRequest) -> Iterator[str]:
    scheme, rules = scheme_named(asked.scheme), asked.rules
    n = smallest_number(scheme, asked.section)
    longest = longest_in_time(scheme, rules, asked.handovers, asked.spare)
    within, wider = (windows_of(scheme, rules, k, asked.handovers, asked.spare) for k in (longest, n))
    handovers = " and ".join(map(str, asked.handovers))
    fewer = "" if within == wider else ": pieces for shorter rows alone may do with fewer parts"
    yield from model_limits(scheme, rules, n, within)
    yield CHECKED
    yield FILE_ORDER
    yield f"these delays are what a row of {longest} needs under handover {handovers}{fewer}"
    yield "no T node is ever locked, nor any node of the other row; no gauge reads one of that"
    if asked.section is not None:
        yield "each column has the given cross-section; product nodes may be locked while the row fills"
    if asked.barred:
        cells = counted(len({cell for cell, _ in asked.barred}), "cell")
        yield f"kept apart from the wiring of the other row in {cells}"
