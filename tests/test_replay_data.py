"""The record that a page plays, read by an interpreter of its own, against the simulator's world at every tick."""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from commands import LAYOUTS
from halls import locked_hall
from sim.errors import InputError
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, cell_text
from sim.world.layout import Layout
from sim.world.parts import Gauge, Line, Node
from sim.world.recording import Recording, record
from sim.world.trial import Arrival, Trial, arrivals_for
from sim.world.world import World
from splitwright.page.embedding import json_text
from splitwright.sheet.replay_data import TICKS_AFTER_LAST, natural_end, recording_for_sheet, replay_data
from splitwright.words import english
from worlds import drawn, random_run

BUILDS = 25
TICKS = 300
ROW = LAYOUTS / "burst-row-of-three.plan"
State = tuple[dict[str, Counter[str]], dict[str, int], dict[str, int], tuple[int, ...]]
"""Contents by cell, signals, locks, items delivered to each output of each stream."""


def runs() -> Iterator[tuple[str, Layout, list[Arrival], Sequence[Cell] | None]]:
    for path in sorted(LAYOUTS.glob("*.plan")):
        layout = load_layout(path)
        yield path.stem, layout, arrivals_for(layout), None
    for seed in range(BUILDS):
        layout, case = random_run(random.Random(f"replay {seed}"))
        yield f"random {seed}", layout, arrivals_for(layout, case["loads"], case["every"]), case["order"]


RUNS = list(runs())


# -- what the world shows


def seen(world: World, trial: Trial) -> State:
    layout = world.layout
    contents = {}
    for cell, store in world.stores.items():
        contents[cell_text(cell)] = Counter[str]()
        for slot in store.slots():
            if slot is not None:
                contents[cell_text(cell)][slot[0]] += slot[1]
    field = world.field
    signals = {cell_text(c): level for c, level in zip(field.wiring.lines, field.level, strict=True)}
    for part, out in zip(field.wiring.parts, field.out, strict=True):
        signals[cell_text(part.at)] = out if isinstance(part, Gauge) else int(out > 0)
    locks = {cell_text(p.at): int(world.is_locked(world.nodes[p.at])) for p in layout.parts if isinstance(p, Node)}
    return contents, signals, locks, tuple(n for s in layout.streams for n in trial.tallies[s.name].delivered)


def truth(layout: Layout, arrivals: Sequence[Arrival], order: Sequence[Cell] | None, ticks: int) -> list[State]:
    """The state at the end of each tick, from a trial that works through all of them."""
    found: list[State] = []
    trial = Trial(layout, order=order, skip=False)
    trial.watchers = [lambda world: found.append(seen(world, trial))]
    trial.run(arrivals, ticks=ticks)
    return found


# -- what the record tells, read by what its description says and nothing else


def timed(flat: list[int], size: int) -> Iterator[tuple[int, list[int]]]:
    tick = 0
    for i in range(0, len(flat), size):
        tick += flat[i]
        yield tick, flat[i + 1 : i + size]


def at_each(trace: list[int], until: int) -> list[int]:
    """The value at the end of every tick."""
    steps = {when: numbers[0] for when, numbers in timed(trace, 2)}
    values: list[int] = []
    for tick in range(until + 1):
        values.append(steps[tick] if tick in steps else values[-1])
    return values


def by_cell(data: dict[str, Any], key: str) -> dict[str, list[int]]:
    return {data["cells"][i]: at_each(trace, data["until"]) for members, trace in data[key] for i in members}


def told(data: dict[str, Any], kinds: list[str]) -> list[State]:
    """The state at the end of each tick up to the record's end. ``kinds``: item kinds in the order of ``items``."""
    cells = data["cells"]
    contents = [Counter[str]() for _ in cells]
    for i in range(0, len(data["start"]), 3):
        cell, item, count = data["start"][i : i + 3]
        contents[cell][kinds[item]] += count
    by_tick: dict[int, list[tuple[int, int, int]]] = {}
    for tick, (source, target, item) in timed(data["moves"], 4):
        by_tick.setdefault(tick, []).append((target, item, 1))
        if source != -1:
            by_tick[tick].append((source, item, -1))
    for tick, (furnace, item, product) in timed(data["fired"], 4):
        by_tick.setdefault(tick, []).extend([(furnace, item, -1), (furnace, product, 1)])
    for tick, (furnace, fuel) in timed(data["burnt"], 3):
        by_tick.setdefault(tick, []).append((furnace, fuel, -1))
    signals, locks = by_cell(data, "signals"), by_cell(data, "locks")
    counts = [at_each(trace, data["until"]) for stream in data["delivered"] for trace in stream["counts"]]
    states = []
    for tick in range(data["until"] + 1):
        for cell, item, change in by_tick.pop(tick, []):
            contents[cell][kinds[item]] += change
        assert all(count >= 0 for there in contents for count in there.values()), tick
        shown = ({cell: values[tick] for cell, values in traces.items()} for traces in (signals, locks))
        held = {cell: +there for cell, there in zip(cells, contents, strict=True)}
        states.append((held, next(shown), next(shown), tuple(values[tick] for values in counts)))
    assert not by_tick, "nothing stands in the record beyond its end"
    return states


def read(recording: Recording, budget: int = 10**9) -> dict[str, Any]:
    """As the page's script gets it: through JSON."""
    data: dict[str, Any] = json.loads(json_text(replay_data(recording, english(), budget)))
    return data


def same(told_of: State, truth_of: State) -> bool:
    """Cells that hold nothing ever (the record numbers signal parts too) hold nothing."""
    contents, *rest = told_of
    cells, *others = truth_of
    held = {cell: there for cell, there in contents.items() if cell in cells or there}
    return rest == others and held == {cell: +there for cell, there in cells.items()}


@pytest.mark.parametrize(("layout", "arrivals", "order"), [run[1:] for run in RUNS], ids=[run[0] for run in RUNS])
def test_record_tells_the_world_at_every_tick(
    layout: Layout, arrivals: list[Arrival], order: Sequence[Cell] | None
) -> None:
    recording = record(layout, arrivals=arrivals, order=order, ticks=TICKS)
    data = read(recording)
    states, worlds = told(data, data["items"]), truth(layout, arrivals, order, TICKS)
    assert len(worlds) == TICKS + 1
    assert data["until"] == natural_end(recording)
    for tick, (state, world) in enumerate(zip(states, worlds[: data["until"] + 1], strict=True)):
        assert same(state, world), tick


def test_runs_are_worth_comparing() -> None:
    """Furnaces fire and take fuel, loads come late, locks and signals change."""
    records = [read(record(layout, arrivals=coming, order=order, ticks=TICKS)) for _, layout, coming, order in RUNS]
    for key in ("moves", "fired", "burnt"):
        assert any(data[key] for data in records), key
    assert any(source == -1 for data in records for _, (source, *_) in timed(data["moves"], 4))
    for key, most in (("signals", 20), ("locks", 5)):
        assert sum(len(trace) > 4 for data in records for _, trace in data[key]) > most, key


def test_places_are_the_middles_of_cells_on_the_stage() -> None:
    """Against the stage itself: a layer's data-origin is the middle of its cell 0,0,z, cells are 40 units, y is up."""
    from splitwright.drawing.stage import stage

    layout = load_layout(ROW)
    data = read(record(layout))
    origins = {}
    for layer in stage(layout, english()).iter("g"):
        if layer.get("class") == "stage-layer":
            origins[int(layer.get("data-layer", ""))] = [float(n) for n in layer.get("data-origin", "").split(",")]
    for cell, place in zip(data["cells"], data["places"], strict=True):
        x, y, z = map(int, cell.split(","))
        assert place == [origins[z][0] + 40 * x, origins[z][1] - 40 * y], cell


# -- how much of it


def test_record_ends_a_while_after_the_last_delivery() -> None:
    """Furnaces of a hall fire on for thousands of ticks after the last item came."""
    recording = record(locked_hall(4, 2))
    last = max(result.last_arrival or 0 for result in recording.result.streams)
    assert recording.last_tick > last + TICKS_AFTER_LAST
    assert read(recording)["until"] == last + TICKS_AFTER_LAST


def test_record_of_a_trial_without_a_delivery_is_whole() -> None:
    layout = drawn("B nE F / nS . . / B . .", "stream s clay from 0,0,2 to 2,0,0")
    recording = record(layout, loads={"s": 3})
    assert recording.result.streams[0].delivered == (0,)
    assert read(recording)["until"] == recording.last_tick


@pytest.mark.parametrize("share", [0.9, 0.5, 0.35])
def test_record_is_cut_to_its_budget(share: float) -> None:
    """What is left is as it was."""
    recording = record(load_layout(ROW))
    whole = read(recording)
    budget = int(len(json_text(whole)) * share)
    cut = read(recording, budget)
    assert 0 < cut["until"] < whole["until"]
    assert len(json_text(cut)) <= budget
    states = told(whole, whole["items"])[: cut["until"] + 1]
    assert told(cut, cut["items"]) == [({c: s[0][c] for c in cut["cells"]}, *s[1:]) for s in states]


def test_record_is_cut_no_shorter_than_need_be() -> None:
    """A record cut at a tick is that of a trial that was run so far; of those the longest that fits is given."""
    layout, load = load_layout(ROW), {"feed": 6}
    recording = record(layout, loads=load)
    shorter = [read(record(layout, loads=load, ticks=ticks)) for ticks in range(recording.last_tick + 1)]
    sizes = [len(json_text(data)) for data in shorter]
    for budget in range(sizes[0], sizes[-1] + 1, 7):
        longest = max(ticks for ticks, size in enumerate(sizes) if size <= budget)
        assert read(recording, budget) == shorter[longest], budget


def test_sheet_shows_the_largest_load_that_fits() -> None:
    layout = load_layout(ROW)
    sizes = [len(json_text(read(record(layout, loads={"feed": 3 * rounds})))) for rounds in (18, 6, 2, 1)]
    assert sizes == sorted(sizes, reverse=True)
    for rounds, size, smaller in zip((18, 6, 2), sizes, sizes[1:], strict=False):
        assert loads(recording_for_sheet(layout, budget_bytes=size)) == [3 * rounds]
        assert loads(recording_for_sheet(layout, budget_bytes=size - 1)) == [3 * {18: 6, 6: 2, 2: 1}[rounds]]
        assert smaller <= size - 1
    assert loads(recording_for_sheet(layout, budget_bytes=1)) == [3]


def test_sheet_shows_less_where_the_source_has_less_room() -> None:
    """A bin of one slot with 9 items' room: three targets get 2 each, not 18 or 6."""
    layout = load_layout(ROW)
    tight = replace(layout, rules={**layout.rules, "bin_slots": 1, "stack": 9}, items={})
    assert loads(recording_for_sheet(tight)) == [6]
    with pytest.raises(InputError, match="room for 2 more clay, not for 3"):
        recording_for_sheet(replace(tight, rules={**tight.rules, "stack": 2}))


def test_recording_for_a_sheet_is_that_of_the_whole_trial() -> None:
    """What a sheet says of the trial does not hang on how much of it is shown."""
    for layout in (load_layout(ROW), locked_hall(4, 2)):
        shown = recording_for_sheet(layout, budget_bytes=10)
        assert shown.result == record(layout, loads={s.name: len(s.outputs) for s in layout.streams}).result


def test_build_that_never_rests_gets_a_record_within_its_budget() -> None:
    recording = recording_for_sheet(blinker(), budget_bytes=3000)
    assert not recording.result.at_rest
    assert len(json_text(read(recording, 3000))) <= 3000


def blinker() -> Layout:
    """A bin over a node over a bin, and apart from them an inverter whose light comes back to its own support."""
    drawing = "iE # ; . . ; . B* / - - ; . . ; . nD / . . ; . . ; . B"
    return drawn(drawing, "stream s clay from 1,0,2 to 1,0,0")


def test_hall_of_sixteen_fits_with_its_full_load() -> None:
    """Two rows of eight kilns, 18 items a target: below 600,000 bytes, so below a third of what a page may weigh."""
    layout = locked_hall(8, 2)
    recording = recording_for_sheet(layout)
    assert loads(recording) == [18 * len(stream.outputs) for stream in layout.streams]
    assert len(json_text(replay_data(recording, english()))) < 600_000


def loads(recording: Recording) -> list[int]:
    return [arrival.count for arrival in recording.arrivals]


# -- as text in a page


def test_json_ends_no_script_whatever_items_are_called() -> None:
    words = replace(english(), items={"clay": "</script><!--&\u2028<script>"})
    data = replay_data(record(load_layout(ROW)), words)
    text = json_text(data)
    assert not set("<>&") & set(text)
    assert text.isascii()
    assert json.loads(text)["items"] == ["</script><!--&\u2028<script>"]


def test_traces_are_shared_by_the_cells_that_have_them() -> None:
    data = read(record(load_layout(ROW)))
    for key in ("signals", "locks"):
        traces = [trace for _, trace in data[key]]
        assert len({tuple(trace) for trace in traces}) == len(traces)
        members = [cell for cells, _ in data[key] for cell in cells]
        assert len(set(members)) == len(members)
    layout = load_layout(ROW)
    lines = sum(isinstance(part, Line) for part in layout.parts)
    assert sum(len(cells) for cells, _ in data["signals"]) >= lines > 0


def test_times_are_differences() -> None:
    """None is negative, so that they add up to times that only go on."""
    data = read(record(load_layout(ROW)))
    assert all(gap >= 0 for gap in data["moves"][::4])
    ticks = [tick for tick, _ in timed(data["moves"], 4)]
    assert all(one <= other for one, other in pairwise(ticks))
