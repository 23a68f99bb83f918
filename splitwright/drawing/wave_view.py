"""Signals and locks of a trial over time, one row each, after the conventions of timing diagrams in digital logic.

A trace is low or high, with upright strokes where it changes; levels are steps with their number beside them, each row
up to its own highest level, which stands at its end; where a node is locked its row is filled and hatched. Nothing is
told by colour alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final
from xml.etree.ElementTree import Element

from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.parts import Gauge, Inverter, Relay
from sim.world.recording import Recording, Steps
from sim.world.signals.field import line_nets
from sim.world.signals.wiring import wiring_of
from sim.world.statement import mention, mentions
from splitwright.drawing.axes import TimeScale, cursor, shortened, step_path, text_width, time_axis
from splitwright.drawing.svg import el
from splitwright.words import Words

ROWS_MOST: Final = 40
"""Rows up to which every signal has its own, even one that never changes."""
ROWS_AT_ALL: Final = 60
"""Rows that are drawn at all; what is left out is counted."""
PARTS_OF_FAMILY: Final = {"lock": "node"}

LABEL_SIZE, NUMBER_SIZE = 13.0, 11.0
LABELS_LEAST, LABELS_MOST = 110.0, 250.0
PLOT_LEAST, PLOT_MOST = 640.0, 1100.0
UNITS_A_TICK: Final = 2.0
"""Width of a tick where there is room for it."""
HEADING, TALL, LOW = 24.0, 32.0, 22.0
"""Heights of a family's heading, of a row with levels, of one with two values."""
SWING_TALL, SWING_LOW = 22.0, 12.0
"""How far a trace rises in such rows."""


@dataclass(frozen=True, slots=True)
class Row:
    """``cells`` of one family with one trace: ``steps``. A run of lines has the highest level in it."""

    family: str
    cells: tuple[Cell, ...]
    steps: Steps

    @property
    def has_levels(self) -> bool:
        """Values go up to the reach, not just to 1."""
        return self.family in ("gauge", "line")

    @property
    def height(self) -> float:
        """Room that it takes."""
        return TALL if self.has_levels else LOW

    def top(self, until: int) -> int:
        """The value that the room above the base stands for: the highest level by then, 1 where there are two."""
        return max(1, *(value for tick, value in self.steps if tick <= until)) if self.has_levels else 1

    @property
    def swing(self) -> float:
        """Room between low and high."""
        return SWING_TALL if self.has_levels else SWING_LOW


@dataclass(frozen=True, slots=True)
class Selection:
    """Rows that are shown; how many are not because they never change, and how many because there are too many."""

    rows: list[Row]
    unchanging: int
    beyond: int


def wave_view(recording: Recording, words: Words, until: int | None = None) -> Element:
    """The waves up to tick ``until`` (default: the last one). Linear in the changes; its size is bounded.

    A row is a ``<g class="row" data-family data-cells>``, its trace drawn in ticks and levels. A script may move
    ``.cursor``; ``data-left``, ``data-unit`` (units a tick) and ``data-until`` tell where ticks are, and ``.labels``
    can be kept in sight when the view is scrolled, and with the class ``is-tucked`` show short texts.
    """
    end = recording.last_tick if until is None else until
    chosen = selection(rows_of(recording), end)
    labels = [_label(recording.layout, row, words) for row in chosen.rows]
    left = min(LABELS_MOST, max([LABELS_LEAST, *(text_width(label, LABEL_SIZE) for label in labels)])) + 14
    scale = TimeScale(end, left, min(PLOT_MOST, max(PLOT_LEAST, end * UNITS_A_TICK)))
    tops = list(_tops(chosen.rows))
    bottom = (tops[-1] + chosen.rows[-1].height if chosen.rows else HEADING) + 6
    notes = _notes(chosen, words)
    width, height = left + scale.width + 28, bottom + 40 + 18 * len(notes)
    named = list(zip(chosen.rows, tops, labels, strict=True))
    return el(
        "svg",
        el("title", words.text("replay.waves")),
        el("desc", " ".join([words.text("replay.waves_text", rows=len(chosen.rows), tick=end), *notes])),
        el("defs", _hatch(scale)),
        el("g", *(_row(row, top, scale) for row, top, _ in named), class_="rows"),
        time_axis(scale, bottom, words, recording.rules.ticks_per_second),
        *(el("text", note, x=left, y=bottom + 54 + 18 * i, class_="left-out") for i, note in enumerate(notes)),
        cursor(scale, HEADING - 4, bottom),
        el("g", el("rect", class_="label-ground", width=left - 2, height=bottom - 1),
           *_labels(named, left, recording.layout, words), class_="labels"),
        class_="waves", role="img", viewBox=f"0 0 {width:.6g} {height:.6g}", width=width, height=height,
        **scale.attributes(),
    )  # fmt: skip


def rows_of(recording: Recording) -> list[Row]:
    """A row for each gauge, relay, inverter, run of lines, and for each set of nodes with one lock between them."""
    layout, signals = recording.layout, recording.signals
    rows = [
        Row(kind.kind, (part.at,), signals[part.at])
        for kind in (Gauge, Relay, Inverter)
        for part in layout.parts
        if isinstance(part, kind)
    ]
    rows += [Row("line", run, highest([signals[cell] for cell in run])) for run in runs(layout)]
    return rows + joined([Row("lock", (cell,), steps) for cell, steps in recording.locks.items()])


def runs(layout: Layout) -> list[tuple[Cell, ...]]:
    """Lines that are linked with one another, in file order. Linear in the parts."""
    wiring = wiring_of(layout)
    return [tuple(wiring.lines[i] for i in sorted(run)) for run in line_nets(wiring)[1]]


def highest(traces: Sequence[Steps]) -> Steps:
    """The largest value of several step functions at each time. Linear in the changes, times the traces."""
    now = [0] * len(traces)
    found: list[tuple[int, int]] = []
    changes = sorted((tick, i, value) for i, steps in enumerate(traces) for tick, value in steps)
    for n, (tick, i, value) in enumerate(changes):
        now[i] = value
        is_last_of_tick = n + 1 == len(changes) or changes[n + 1][0] != tick
        if is_last_of_tick and (not found or found[-1][1] != max(now)):
            found.append((tick, max(now)))
    return tuple(found)


def joined(rows: Sequence[Row]) -> list[Row]:
    """Rows of one family whose traces are the same made one, in the order of their first ones."""
    found: dict[tuple[str, Steps], list[Cell]] = {}
    for row in rows:
        found.setdefault((row.family, row.steps), []).extend(row.cells)
    return [Row(family, tuple(cells), steps) for (family, steps), cells in found.items()]


def selection(rows: Sequence[Row], until: int) -> Selection:
    """All rows where there are not many; else those that change by ``until``, same ones as one, and so many at most."""
    if len(rows) <= ROWS_MOST:
        return Selection(list(rows), 0, 0)
    changing = [row for row in rows if len(row.steps) > 1 and row.steps[1][0] <= until]
    single = joined(changing)
    return Selection(single[:ROWS_AT_ALL], len(rows) - len(changing), len(single[ROWS_AT_ALL:]))


def _tops(rows: Sequence[Row]) -> Iterator[float]:
    """Where each row begins: a family's first one below its heading."""
    top, family = 0.0, ""
    for row in rows:
        top += HEADING if row.family != family else 0
        family = row.family
        yield top
        top += row.height


def _row(row: Row, top: float, scale: TimeScale) -> Element:
    high = row.top(scale.until)
    base = top + (row.height + row.swing) / 2
    turned = scale.turned(base, row.swing / high)
    drawn = [el("path", class_="low", d=f"M{scale.left:.6g} {base:.6g}H{scale.at(scale.until):.6g}")]
    if row.family == "lock":
        drawn.append(el("path", class_="locked", d=_bands(row.steps, scale.until), transform=turned))
    drawn.append(el("path", class_="trace", d=step_path(row.steps, scale.until), transform=turned))
    if row.has_levels:
        drawn += _numbers(row, base, row.swing / high, scale)
        x, y = scale.at(scale.until) + 5, base - row.swing + 6
        drawn.append(el("text", str(high), x=x, y=y, class_="number highest"))
    return el("g", *drawn, class_="row", data_family=row.family, data_cells=" ".join(map(cell_text, row.cells)))


def _bands(steps: Steps, until: int) -> str:
    """The stretches in which a trace is high, as boxes."""
    within = [entry for entry in steps if entry[0] <= until]
    stretches = pairwise([*within, (until, 0)])
    return "".join(f"M{tick} 0V1H{end}V0Z" for (tick, value), (end, _) in stretches if value and end > tick)


def _numbers(row: Row, base: float, rise: float, scale: TimeScale) -> Iterator[Element]:
    """The level after each change, where there is room for it before the next one."""
    within = [entry for entry in row.steps if entry[0] <= scale.until]
    for (tick, level), (end, _) in pairwise([*within, (scale.until, 0)]):
        if (end - tick) * scale.unit >= text_width(str(level), NUMBER_SIZE) + 5:
            below = level * rise > SWING_TALL / 2
            y = base - level * rise + (NUMBER_SIZE if below else -3)
            yield el("text", str(level), x=scale.at(tick) + 3, y=y, class_="number")


def _labels(
    named: Sequence[tuple[Row, float, str]], left: float, layout: Layout, words: Words
) -> Iterator[Element]:
    """What each row shows, and a heading for each family."""
    family = ""
    for row, top, label in named:
        if row.family != family:
            family = row.family
            text = words.text(f"replay.{family}s", parts=words.part(PARTS_OF_FAMILY.get(family, family), 2))
            yield el("text", shortened(text, LABELS_MOST, LABEL_SIZE), x=4, y=top - 6, class_="family")
        everything = words.text("replay.row", parts=mentions(layout, row.cells))
        shown = shortened(label, LABELS_MOST, LABEL_SIZE)
        place: dict[str, float] = {"x": left - 10, "y": top + row.height / 2 + 4.5}
        yield el("text", el("title", everything), shown, **place)
        yield el("text", _short_label(row), class_="short", **place)


def _label(layout: Layout, row: Row, words: Words) -> str:
    first, more = mention(layout, row.cells[0]), len(row.cells) - 1
    if not more:
        return words.text("replay.row", parts=(first,))
    return words.text("replay.row_and_more", part=first, count=more)


def _short_label(row: Row) -> str:
    """The label for where there is little room: its first cell, and how many more there are."""
    more = len(row.cells) - 1
    return cell_text(row.cells[0]) + (f" +{more}" if more else "")


def _notes(chosen: Selection, words: Words) -> list[str]:
    counts = (("unchanging", chosen.unchanging), ("beyond", chosen.beyond))
    return [words.text(f"replay.{key}", count=count) for key, count in counts if count]


def _hatch(scale: TimeScale) -> Element:
    """Strokes at 45 degrees, undone of the scale of the rows that they fill."""
    undone = f"scale({1 / scale.unit:.6g} {1 / SWING_LOW:.6g})"
    return el(
        "pattern",
        el("rect", class_="band", width=6, height=6),
        el("path", class_="stroke", d="M-1 7L7 -1M-1 1L1 -1M5 7L7 5"),
        id="locked-hatch", patternUnits="userSpaceOnUse", width=6, height=6, patternTransform=undone,
    )  # fmt: skip
