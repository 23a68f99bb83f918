"""Why a trial went wrong, said: the mishaps of its recording as sentences and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from sim.world.case_file import Case, case_arrivals, case_layout
from sim.world.files.places import printable
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.rulebook import Rules
from sim.world.trial import Arrival, TrialResult
from splitwright.words import Words, english

if TYPE_CHECKING:
    from sim.analysis.mishap import Mishap, MishapKind

TOLD: Final[frozenset[MishapKind]] = frozenset({"uneven", "nothing", "unrest"})
"""What is explained unasked. Items left in nodes are no fault where a build means to keep them."""
TICKS_MOST: Final = 200_000
"""A run longer than that is not run again for an explanation: that would take longer than a few seconds."""


def explained(
    layout: Layout, arrivals: Sequence[Arrival], order: Sequence[Cell] | None, ticks: int | None, result: TrialResult
) -> tuple[Mishap, ...]:
    """The mishaps of a trial that gave ``result``, run once more and written down.

    Empty where there is nothing to explain, and where the run is too long, cut short or ended without an answer.
    """
    no_answer = result.stopped or result.is_cut_short
    if no_answer or result.outcome == "even" or result.tick > TICKS_MOST:
        return ()
    return _mishaps(layout, arrivals, order, ticks)


def explanation_of_case(layout: Layout, case: Case, stream: str) -> str:
    """What went wrong with a stream in a case of the layout, in one sentence; "" where its run shows nothing."""
    found = mishap_of_case(layout, case, stream)
    return "" if found is None else _text(found, english(), shortest=True)


def mishap_of_case(layout: Layout, case: Case, stream: str, rules: Rules | None = None) -> Mishap | None:
    """What went wrong with a stream in a case of the layout, run once more; None where its run shows nothing.

    ``rules``: the rulebook that the layout overrides (default: the default rulebook).
    """
    found = _mishaps(case_layout(layout, case), case_arrivals(case), case.order, None, rules)
    return next((mishap for mishap in found if mishap.stream == stream), None)


def explanation_lines(mishaps: Sequence[Mishap]) -> list[str]:
    """A line for each stream: ``feed: In tick 15 ...``."""
    return [f"{printable(mishap.stream)}: {mishap_text(mishap)}" for mishap in mishaps]


def mishap_text(mishap: Mishap) -> str:
    """All that is said of a mishap."""
    return _text(mishap, english())


def explanation_document(mishaps: Sequence[Mishap]) -> list[dict[str, Any]]:
    """The same as it stands in ``--json`` documents."""
    return [
        {
            "stream": mishap.stream,
            "kind": mishap.kind,
            "tick": mishap.tick,
            "at": list(mishap.at),
            "text": mishap_text(mishap),
        }
        for mishap in mishaps
    ]


def _mishaps(
    layout: Layout,
    arrivals: Sequence[Arrival],
    order: Sequence[Cell] | None,
    ticks: int | None,
    rules: Rules | None = None,
) -> tuple[Mishap, ...]:
    """Loaded where it is used: most trials need no graph of influence."""
    from sim.analysis.mishap import mishaps
    from sim.world.recording import record

    recording = record(layout, rules=rules, arrivals=arrivals, order=order, ticks=ticks, limit=TICKS_MOST)
    if recording.result.stopped:
        return ()
    return tuple(mishap for mishap in mishaps(recording) if mishap.kind in TOLD)


def _text(mishap: Mishap, words: Words, *, shortest: bool = False) -> str:
    statements = mishap.statements[:1] if shortest else mishap.statements
    return printable(" ".join(words.text(statement) for statement in statements))
