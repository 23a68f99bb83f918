"""What a watcher says has changed; and when it holds a file for saved."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import splitwright.watching.saves
from commands import LAYOUTS
from sim.files.reading import load_layout
from sim.layout import Layout
from sim.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.rulebook import default_rules
from sim.trial import StreamResult, TrialResult
from splitwright.interrupt import Interrupted
from splitwright.watching.changes import changes
from splitwright.watching.layout_look import LayoutLook, LayoutNews, Tried
from splitwright.watching.report import lines_of
from splitwright.watching.saves import GONE, SETTLED, Saves

AT = (1, 2, 0)


def one(*parts: Part) -> Layout:
    return Layout("", (4, 4, 4), parts=parts)


@pytest.mark.parametrize(
    ("before", "after", "what", "text"),
    [
        (None, Node(AT, "E"), "added", "added a node, outlet E at 1,2,0"),
        (None, Relay(AT, "W", 3), "added", "added a relay, output W, delay 3 at 1,2,0"),
        (None, Inverter(AT, "D"), "added", "added an inverter, mount D at 1,2,0"),
        (None, Bin(AT, "marked"), "added", "added a bin, marked at 1,2,0"),
        (Line(AT), None, "removed", "removed the line at 1,2,0"),
        (Gauge(AT, "E"), Gauge(AT, "N"), "turned", "turned the gauge at 1,2,0 from E to N"),
        (Relay(AT, "E", 1), Relay(AT, "E", 4), "set", "set the relay at 1,2,0 from delay 1 to 4"),
        (Bin(AT), Bin(AT, "marked"), "set", "made the bin at 1,2,0 marked, which was plain"),
        (Furnace(AT), Furnace(AT, (("clay", 2),)), "set", "changed what the furnace at 1,2,0 holds"),
        (Support(AT), Furnace(AT), "replaced", "put a furnace in the place of the support at 1,2,0"),
    ],
)
def test_a_change_of_one_cell(before: Part | None, after: Part | None, what: str, text: str) -> None:
    layouts = [one(*([part] if part else [])) for part in (before, after)]
    (change,) = changes(*layouts)
    assert (change.what, change.at, change.text) == (what, AT, text)
    assert change.as_json() == {"what": what, "at": [1, 2, 0], "text": text}


def test_turned_and_set_are_two_changes() -> None:
    told = [change.what for change in changes(one(Relay(AT, "E", 1)), one(Relay(AT, "W", 2)))]
    assert told == ["turned", "set"]


def test_what_is_of_no_one_cell() -> None:
    layout = load_layout(LAYOUTS / "burst-row-of-two.plan")
    other = replace(layout, title="x", size=(9, 9, 9), rules={"handover": 7}, parts=layout.parts[::-1])
    assert [(change.at, change.text) for change in changes(layout, other)] == [
        (None, f"changed the {name}") for name in ("title", "size", "rules", "order of the parts")
    ]


@given(st.sets(st.integers(0, 30)), st.sets(st.integers(0, 30)))
def test_each_cell_that_differs_is_told_once(fewer: set[int], others: set[int]) -> None:
    """Some parts of a build gone, some others put in otherwise: the cells told are those that differ, no others."""
    layout = load_layout(LAYOUTS / "burst-row-of-two.plan")
    gone = [part for i, part in enumerate(layout.parts) if i not in fewer]
    after = replace(layout, parts=tuple(Line(p.at) if i in others else p for i, p in enumerate(gone)))
    told = [change.at for change in changes(layout, after)]
    cells = layout.by_cell.keys() | after.by_cell.keys()
    differing = {cell for cell in cells if layout.by_cell.get(cell) != after.by_cell.get(cell)}
    assert sorted(cell for cell in told if cell) == sorted(differing)
    assert (not told) == (layout == after)


# -- saves -----------------------------------------------------------------------------------------------------------


def looks(saves: Saves, count: int) -> list[bool]:
    return [saves.has_come() for _ in range(count)]


def test_a_save_counts_when_the_file_has_settled(tmp_path: Path) -> None:
    path = tmp_path / "a.plan"
    path.write_text("one", encoding="utf-8")
    saves = Saves(path)
    assert looks(saves, 3) == [False] * 3
    path.write_text("half", encoding="utf-8")
    assert looks(saves, 1) == [False], "it may be half of it"
    path.write_text("half and half", encoding="utf-8")
    assert looks(saves, SETTLED) == [*[False] * (SETTLED - 1), True]
    saves.note()
    assert looks(saves, 3) == [False] * 3


def test_an_editor_that_takes_the_old_file_away_first(tmp_path: Path) -> None:
    path = tmp_path / "a.plan"
    path.write_text("one", encoding="utf-8")
    saves = Saves(path)
    path.unlink()
    assert looks(saves, GONE - 1) == [False] * (GONE - 1)
    path.write_text("two!", encoding="utf-8")
    assert looks(saves, SETTLED)[-1]
    path.unlink()
    assert looks(saves, GONE)[-1]
    saves.note()
    assert not saves.is_there
    assert looks(saves, 2 * GONE) == [False] * 2 * GONE, "told once"


def test_the_same_text_saved_again_is_a_save(tmp_path: Path) -> None:
    path, beside = tmp_path / "a.plan", tmp_path / "b"
    path.write_text("one", encoding="utf-8")
    saves = Saves(path)
    beside.write_text("one", encoding="utf-8")
    os.replace(beside, path)
    assert looks(saves, SETTLED)[-1]


def test_looks_go_on_where_the_system_has_no_watch_to_give(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none_left(*_: object, **__: object) -> Iterator[object]:
        raise OSError("OS file watch limit reached")

    monkeypatch.setattr(splitwright.watching.saves, "watch", none_left)
    path = tmp_path / "a.plan"
    path.write_text("one", encoding="utf-8")
    saves = Saves(path)
    pulses = saves.pulses()
    next(pulses)
    path.write_text("another", encoding="utf-8")
    assert any(saves.has_come() for _ in islice(pulses, 2 * SETTLED))


# -- one look --------------------------------------------------------------------------------------------------------


def test_the_handovers_that_are_tried(tmp_path: Path) -> None:
    """The layout's own first, then those that worlds are known to use."""
    text = (LAYOUTS / "burst-row-of-two.plan").read_text(encoding="utf-8")
    path = tmp_path / "a.plan"
    path.write_text(text.replace("\nlayer 0", "\nrule handover 9\nlayer 0", 1), encoding="utf-8")
    news = LayoutLook(path)(threading.Event())
    rules = default_rules()
    assert [one.handover for one in news.tried] == [9, rules.handover, rules.other_handover]


EVEN, UNEVEN = (3, 3), (4, 2)


def result(delivered: tuple[int, ...], *, at_rest: bool = True, stopped: bool = False) -> TrialResult:
    spread = max(delivered) - min(delivered)
    stream = StreamResult("feed", delivered, spread, 0, 0, None, None)
    return TrialResult(1, at_rest, (stream,), {}, {}, (), (), stopped)


@pytest.mark.parametrize(
    ("results", "words", "is_even"),
    [
        ([result(EVEN), result(EVEN)], ["even", "even"], True),
        ([result(EVEN), result(UNEVEN)], ["even", "uneven"], False),
        ([result(EVEN), result(EVEN, stopped=True)], ["even", "no answer"], None),
        ([result(UNEVEN), result(EVEN, stopped=True)], ["uneven", "no answer"], False),
        ([result((0, 0))], ["nothing delivered"], False),
        ([result(EVEN, at_rest=False)], ["never at rest"], False),
        ([replace(result(EVEN), streams=())], ["nothing to judge"], None),
    ],
)
def test_the_answer_over_all_handovers(results: list[TrialResult], words: list[str], is_even: bool | None) -> None:
    tried = tuple(Tried(8 - i, one, ()) for i, one in enumerate(results))
    assert [one.word for one in tried] == words
    assert LayoutNews(one(), tried, (), None).is_even is is_even


def test_what_stays_behind_is_told() -> None:
    """Fact 3 of the rulebook: with no drain each B holds one at the end."""
    news = LayoutLook(LAYOUTS / "row-of-three-no-drain.plan")(threading.Event())
    lines = list(map(str, lines_of(news, quiet=False)))
    assert lines[0] == "Even: feed 17 / 17 / 17, 3 held in nodes (handover 8 and 7)."
    assert any(line.startswith("What stays behind (handover ") for line in lines)
    assert not any("went wrong" in line for line in lines)
    assert lines_of(news, quiet=True) == lines[:1]


def test_a_look_that_is_told_to_stop_stops() -> None:
    stop = threading.Event()
    stop.set()
    with pytest.raises(Interrupted):
        LayoutLook(LAYOUTS / "burst-row-of-two.plan")(stop)
