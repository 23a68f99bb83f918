"""The answer at the head of a sheet: what the trial that it replays came to."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from sim.world.layout import Layout, Stream
from sim.world.recording import Recording
from sim.world.statement import ItemWord, Statement, mention, mentions
from sim.world.trial import StreamResult
from splitwright.cli.measuring import OUTCOME_PHRASES, LayoutMeasures
from splitwright.sheet.figures import came
from splitwright.words import Words


@dataclass(frozen=True, slots=True)
class TrialAnswer:
    """``verdict``: a phrase. ``lines``: what came of each stream. ``scope``: of what one trial this is told."""

    verdict: str
    lines: tuple[Statement, ...]
    scope: Statement

    @property
    def delivers_nothing(self) -> bool:
        """Of some stream nothing came to any output: then "even" says nothing."""
        return self.verdict == OUTCOME_PHRASES["nothing"]


def trial_answer(recording: Recording, words: Words) -> TrialAnswer:
    """The answer of a recorded trial of a layout with streams."""
    result = recording.result
    put_in = Counter[str]()
    for arrival in recording.arrivals:
        put_in[arrival.stream] += arrival.count
    lines = tuple(
        _line(stream, one, put_in[stream.name], words)
        for stream, one in zip(recording.layout.streams, result.streams, strict=True)
    )
    key = "sheet.trial_scope" if result.at_rest else "sheet.trial_no_rest"
    scope = Statement(key, {"handover": recording.rules.handover, "tick": result.tick})
    return TrialAnswer(OUTCOME_PHRASES[result.outcome], lines, scope)


def other_handovers(measures: LayoutMeasures, words: Words) -> list[Statement]:
    """What the default load comes to under the handovers that are not in force."""
    return [
        Statement(
            "sheet.other_handover",
            {"load": run.per_target, "handover": run.handover, "outcome": words.text(OUTCOME_PHRASES[run.outcome])},
        )
        for run in measures.runs[1:]
    ]


def purposes(layout: Layout) -> list[Statement]:
    """What the layout is for, a sentence a stream."""
    return [
        Statement(
            "sheet.does" if len(stream.outputs) > 1 else "sheet.does_one",
            {
                "item": ItemWord(stream.item),
                "source": mention(layout, stream.source),
                "outputs": mentions(layout, stream.outputs),
            },
        )
        for stream in layout.streams
    ]


def _line(stream: Stream, result: StreamResult, load: int, words: Words) -> Statement:
    come = came(result.delivered, words)
    return Statement("sheet.trial", {"name": stream.name, "load": load, "item": ItemWord(stream.item), "come": come})
