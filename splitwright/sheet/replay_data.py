"""The record of a trial that a page is given, small enough for it; the script that plays it needs nothing else.

Numbers stand in flat lists. Times are differences from the time before, cells and items are places in ``cells`` and
``items``:

- ``start``: cell, item, count, ...: what containers hold before tick 1;
- ``moves``: ticks since the move before, from, to, item, ... (from -1: put in from outside);
- ``fired``: ticks, furnace, item, product, ...; ``burnt``: ticks, furnace, fuel, ...;
- ``signals``, ``locks``: pairs of the cells that share one trace, and the trace: ticks, value, ... from tick 0 on;
- ``delivered``: for each stream its name, outputs and one trace of counts each.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Mapping
from typing import Any, Final, Generic, TypeVar

from sim.errors import InputError
from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.recording import Burning, Firing, Move, Recording, Steps, record
from sim.world.rulebook import Rules
from splitwright.cli.measuring import ROUNDS
from splitwright.drawing.stage import stage_positions
from splitwright.page.embedding import json_text
from splitwright.words import Words, english

BUDGET_BYTES: Final = 600_000
TICKS_AFTER_LAST: Final = 200
"""Ticks that are shown after the last item came to an output: signals calm down in them; furnaces go on far longer."""
ENTRIES_MOST: Final = 600_000
"""Moves and changes that are written down before a trial is given up: some 60 MB."""
OUTSIDE: Final = -1
Key = TypeVar("Key", bound=Hashable)


def recording_for_sheet(
    layout: Layout, rules: Rules | None = None, budget_bytes: int = BUDGET_BYTES
) -> Recording:
    """The trial that a sheet shows, whole: 18 items a target, or 6, 2 or 1 where the record of more would not fit.

    Where not even that of one item a target fits it is given all the same, and ``replay_data`` shows less of it.
    Raises InputError when the source has no room even for one item a target. Time: that of at most four trials.
    """
    fitting: Recording | None = None
    for per_target in ROUNDS:
        loads = {stream.name: per_target * len(stream.outputs) for stream in layout.streams}
        try:
            fitting = record(layout, rules=rules, loads=loads, entries_most=ENTRIES_MOST)
        except InputError:
            if per_target == ROUNDS[-1]:
                raise
            continue
        if not fitting.result.stopped and _size(_document(fitting, english(), natural_end(fitting))) <= budget_bytes:
            break
    assert fitting is not None
    return fitting


def natural_end(recording: Recording) -> int:
    """The last tick worth showing: a while after the last delivery; the last one that was run, if there was none."""
    came = [steps[-1][0] for lines in recording.delivered.values() for steps in lines]
    last = max(came, default=0)
    return min(recording.last_tick, last + TICKS_AFTER_LAST) if last else recording.last_tick


def replay_data(recording: Recording, words: Words, budget_bytes: int = BUDGET_BYTES) -> dict[str, Any]:
    """The record as a JSON document. It ends (``until``) at the natural end, or earlier if that would not fit.

    What containers hold at the start always stands in it, whatever the budget. Time: linear in what happens in the
    trial; times the logarithm of its ticks where it does not fit.
    """
    end = natural_end(recording)
    found = _document(recording, words, end)
    if _size(found) <= budget_bytes:
        return found
    fits, too_far = 0, end
    while too_far - fits > 1:
        middle = (fits + too_far) // 2
        if _size(_document(recording, words, middle)) <= budget_bytes:
            fits = middle
        else:
            too_far = middle
    return _document(recording, words, fits)


def _size(data: Mapping[str, Any]) -> int:
    return len(json_text(data))


def _document(recording: Recording, words: Words, until: int) -> dict[str, Any]:
    cells, items = _Numbers[Cell](), _Numbers[str]()
    positions = stage_positions(recording.layout)
    document: dict[str, Any] = {
        "until": until,
        "ticksPerSecond": recording.rules.ticks_per_second,
        "period": recording.rules.period,
        "readout": words.text("replay.readout", tick="{tick}", seconds="{seconds}"),
        "thousands": words.phrases["join.thousands"],
        "decimal": words.phrases["join.decimal"],
        "start": _start(recording, cells, items),
        **_events(recording, until, cells, items),
        "signals": _traces(recording.signals, until, cells),
        "locks": _traces(recording.locks, until, cells),
        "delivered": [
            {
                "stream": stream.name,
                "outputs": [cells[cell] for cell in stream.outputs],
                "counts": [_trace(steps, until) for steps in recording.delivered[stream.name]],
            }
            for stream in recording.layout.streams
        ],
    }
    document["cells"] = [cell_text(cell) for cell in cells.known]
    document["places"] = [list(positions[cell]) for cell in cells.known]
    document["items"] = [words.item(kind) for kind in items.known]
    return document


class _Numbers(Generic[Key]):
    """Numbers from 0 up for things as they are first asked for."""

    def __init__(self) -> None:
        self.known: dict[Key, int] = {}

    def __getitem__(self, key: Key) -> int:
        return self.known.setdefault(key, len(self.known))


def _start(recording: Recording, cells: _Numbers[Cell], items: _Numbers[str]) -> list[int]:
    """Every container is numbered, an empty one too."""
    found: list[int] = []
    for cell, slots in recording.start.items():
        held = Counter[str]()
        number = cells[cell]
        for slot in slots:
            if slot is not None:
                held[slot[0]] += slot[1]
        for kind, count in held.items():
            found += (number, items[kind], count)
    return found


def _events(recording: Recording, until: int, cells: _Numbers[Cell], items: _Numbers[str]) -> dict[str, list[int]]:
    def moved(move: Move) -> tuple[int, ...]:
        source = OUTSIDE if move.source is None else cells[move.source]
        return source, cells[move.target], items[move.kind]

    def fired(firing: Firing) -> tuple[int, ...]:
        return cells[firing.furnace], items[firing.kind], items[firing.product]

    def burnt(burning: Burning) -> tuple[int, ...]:
        return cells[burning.furnace], items[burning.fuel]

    return {
        "moves": _timed((move.tick, moved(move)) for move in recording.moves if move.tick <= until),
        "fired": _timed((firing.tick, fired(firing)) for firing in recording.fired if firing.tick <= until),
        "burnt": _timed((burning.tick, burnt(burning)) for burning in recording.burnt if burning.tick <= until),
    }


def _timed(entries: Iterable[tuple[int, tuple[int, ...]]]) -> list[int]:
    """One flat list, each entry led by the ticks since the one before."""
    found: list[int] = []
    before = 0
    for tick, numbers in entries:
        found += (tick - before, *numbers)
        before = tick
    return found


def _trace(steps: Steps, until: int) -> list[int]:
    return _timed((tick, (value,)) for tick, value in steps if tick <= until)


def _traces(traces: Mapping[Cell, Steps], until: int, cells: _Numbers[Cell]) -> list[list[list[int]]]:
    """Cells with the same trace share it."""
    found: dict[tuple[int, ...], list[int]] = {}
    for cell, steps in traces.items():
        found.setdefault(tuple(_trace(steps, until)), []).append(cells[cell])
    return [[members, list(trace)] for trace, members in found.items()]
