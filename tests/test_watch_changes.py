"""What a watcher says has changed; and when it holds a file for saved."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import islice
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import splitwright.commands.watch.following
import splitwright.commands.watch.layout_look
import splitwright.commands.watch.saves
from commands import LAYOUTS, OSCILLATOR
from sim.errors import InputError
from sim.world.files.reading import load_layout
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.rulebook import default_rules
from sim.world.trial import StreamResult, TrialResult
from sim.world.world import Finding
from splitwright.cli.interrupt import Interrupted
from splitwright.commands.watch.changes import changes
from splitwright.commands.watch.following import GONE_NOTE, follow
from splitwright.commands.watch.layout_look import LayoutLook, LayoutNews, Tried
from splitwright.commands.watch.report import lines_of
from splitwright.commands.watch.saves import GONE, SETTLED, Saves

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

    monkeypatch.setattr(splitwright.commands.watch.saves, "watch", none_left)
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
    stream = StreamResult("feed", delivered, spread, 0, 0, None, None, given=6)
    repeats = () if at_rest or stopped else (Finding("never rests", "its state repeats", tick=9),)
    return TrialResult(1, at_rest, (stream,), {}, {}, (), repeats, stopped)


def beside(first: TrialResult, second: TrialResult) -> TrialResult:
    """Two streams, one of each."""
    return replace(first, streams=(*first.streams, *second.streams))


@pytest.mark.parametrize(
    ("results", "words", "is_even"),
    [
        ([result(EVEN), result(EVEN)], ["even", "even"], True),
        ([result(EVEN), result(UNEVEN)], ["even", "uneven"], False),
        ([result(EVEN), result(EVEN, stopped=True)], ["even", "no answer"], None),
        ([result(UNEVEN), result(EVEN, stopped=True)], ["uneven", "no answer"], False),
        ([result((0, 0))], ["nothing delivered"], False),
        ([beside(result(EVEN), result((0, 0)))], ["nothing delivered"], False),
        ([beside(result(UNEVEN), result((0, 0)))], ["uneven"], False),
        ([result((0, 0), at_rest=False)], ["nothing delivered"], False),
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
    assert lines[0] == (
        "Even: feed 17 / 17 / 17, 3 held in nodes for this one load (feed=54, there at once), "
        "the layout's update order and handover 8 and 7."
    )
    assert any(line.startswith("What stays behind (handover ") for line in lines)
    assert not any("went wrong" in line for line in lines)
    assert lines_of(news, quiet=True) == lines[:1]


def test_a_look_that_is_told_to_stop_stops() -> None:
    stop = threading.Event()
    stop.set()
    with pytest.raises(Interrupted):
        LayoutLook(LAYOUTS / "burst-row-of-two.plan")(stop)


def without_gauges(text: str) -> str:
    return text.replace("gN ", ".  ")


@pytest.mark.parametrize("ends", ["before it came to anything", "before it was told"])
def test_what_a_look_that_nobody_was_told_of_found_is_told_by_the_next(tmp_path: Path, ends: str) -> None:
    text = (LAYOUTS / "burst-row-of-two.plan").read_text(encoding="utf-8")
    path = tmp_path / "a.plan"
    path.write_text(text, encoding="utf-8")
    look = LayoutLook(path)
    assert look(threading.Event()).changes is None
    path.write_text(without_gauges(text), encoding="utf-8")
    stop = threading.Event()
    if ends == "before it was told":
        assert look(stop).changes
        stop.set()
    else:
        stop.set()
        with pytest.raises(Interrupted):
            look(stop)
    path.write_text(without_gauges(text).replace("title  Two", "title  Both"), encoding="utf-8")
    found = look(threading.Event()).changes
    assert found is not None
    assert [change.text for change in found] == ["removed the gauge at 0,2,2", "changed the title"]
    found = look(threading.Event()).changes
    assert found == (), "told"


@pytest.mark.parametrize("is_checked", [True, False])
def test_findings_of_both_handovers_are_told_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, is_checked: bool
) -> None:
    """An oscillator never rests, never settles and overheats, whatever the handover; the design checks find that too,
    so they are left out in one of the cases."""
    if not is_checked:
        monkeypatch.setattr(splitwright.commands.watch.layout_look, "builders_findings", lambda _: [])
    path = tmp_path / "a.plan"
    path.write_text(OSCILLATOR, encoding="utf-8")
    news = LayoutLook(path)(threading.Event())
    assert len(news.tried) == 2
    each = [{finding.check for finding in one.result.findings} for one in news.tried]
    assert each[0] == each[1] == {"never settles", "overheats", "never rests"}
    told = [(finding.check, finding.at) for finding in news.findings]
    assert len(told) == len(set(told))
    assert {check for check, _ in told} >= each[0]


# -- following -------------------------------------------------------------------------------------------------------


class Scripted:
    """Saves that come as a list has it, a pulse each: what is done before it, and whether a save has come then."""

    def __init__(self, script: list[tuple[Callable[[], object], bool]]) -> None:
        self._script, self._now, self.is_there = script, False, True

    def pulses(self) -> Iterator[None]:
        for act, now in self._script:
            self._now = now
            act()
            yield

    def has_come(self) -> bool:
        return self._now

    def note(self) -> None:
        """Nothing to note."""


def until_stopped_then_fails(stop: threading.Event) -> str:
    stop.wait(timeout=30)
    raise RuntimeError("a fault of ours")


@pytest.mark.parametrize("save", [True, False])
def test_a_fault_of_ours_is_raised_where_a_save_or_the_end_stops_the_look(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, save: bool
) -> None:
    script = Scripted([(lambda: None, save)])
    monkeypatch.setattr(splitwright.commands.watch.following, "Saves", lambda _: script)
    told: list[str | InputError] = []
    with pytest.raises(RuntimeError, match="a fault of ours"):
        follow(tmp_path / "a.plan", until_stopped_then_fails, told.append)
    assert told == []


def test_a_file_that_is_put_back_after_a_gap(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Away for as long as it takes to count as gone: told once, and looked at again when it is back and settled.

    Pulses without end would be Ctrl-C's to end: here they are counted.
    """
    path = tmp_path / "a.plan"
    path.write_text("one", encoding="utf-8")
    told: list[str | InputError] = []

    def pulses(_: Saves) -> Iterator[None]:
        yield from calm(told, 1)
        path.unlink()
        yield from islice(iter(lambda: None, 0), GONE - 1)
        assert len(told) == 1, "it may be on its way back"
        yield from islice(iter(lambda: None, 0), GONE)
        assert len(told) == 2
        path.write_text("two", encoding="utf-8")
        yield from calm(told, 3)

    monkeypatch.setattr(Saves, "pulses", pulses)
    follow(path, lambda _: path.read_text(encoding="utf-8"), told.append)
    assert (told[0], str(told[1]), told[2]) == ("one", f"{path}: {GONE_NOTE}", "two")
    assert len(told) == 3


def calm(told: list[str | InputError], count: int) -> Iterator[None]:
    """Pulses until so much is told; a bound keeps a broken one from hanging."""
    for _ in range(3000):
        if len(told) == count:
            return
        threading.Event().wait(0.01)
        yield
    raise AssertionError(f"told {len(told)} times, not {count}")
