"""The wave file, read back by a third-party reader (vcdvcd, from PyPI), against the simulator's own trace.

Source of the format: IEEE Std 1364-2005, section 18. The trace is taken tick by tick, with no tick skipped, by a
watcher that shares nothing with the writer; times, values and the number of changes must all agree.
"""

from __future__ import annotations

import random
import re
import signal
from collections.abc import Sequence
from decimal import Decimal
from io import StringIO
from pathlib import Path
from typing import Any

import pytest

from commands import LAYOUTS, ROW, run
from printed import ONE_KILN
from sim.errors import InputError
from sim.world.files.layout_json import layout_from_json
from sim.world.files.reading import load_layout
from sim.world.geometry import cell_text
from sim.world.layout import Layout
from sim.world.parts import Furnace, Gauge, Inverter, Line, Relay
from sim.world.rulebook import Rules, default_rules
from sim.world.trial import Arrival, Trial, arrivals_for
from sim.world.waves import TimeBase, WaveWriter, identifier
from sim.world.world import World
from worlds import random_run

_before = signal.getsignal(signal.SIGPIPE)
from vcdvcd import VCDVCD  # noqa: E402

signal.signal(signal.SIGPIPE, _before)  # the reader changes it for the whole process when it is loaded

Changes = list[tuple[int, int]]
TICK_UNITS = 50
SCOPES = {Line: "lines", Gauge: "gauges", Relay: "relays", Inverter: "inverters"}


def values_now(trial: Trial) -> dict[str, int]:
    """What the file should show at this instant, from the results that the trial itself gives."""
    world, result = trial.world, trial.result()
    values = {}
    for part in trial.layout.parts:
        place = cell_text(part.at).replace(",", "_")
        if type(part) in SCOPES:
            values[f"{SCOPES[type(part)]}.{part.kind}_{place}"] = result.signals[part.at]
        if part.at in world.nodes:
            values[f"locked.locked_{place}"] = int(part.at in result.locked)
        if part.at in result.contents:
            counts = [0 if slot is None else slot[1] for slot in result.contents[part.at]]
            if isinstance(part, Furnace):
                for word, count in zip(("feed", "fuel", "product"), counts, strict=True):
                    values[f"items.furnace_{place}_{word}"] = count
            else:
                values[f"items.{part.kind}_{place}"] = sum(counts)
    for number, (stream, told) in enumerate(zip(trial.layout.streams, result.streams, strict=True)):
        name = re.sub("[^A-Za-z0-9_]", "_", stream.name)
        for output, delivered in zip(stream.outputs, told.delivered, strict=True):
            values[f"delivered.stream{number}_{name}_to_{cell_text(output).replace(',', '_')}"] = delivered
    return values


def own_trace(
    layout: Layout, arrivals: Sequence[Arrival], order: Any, ticks: int, rules: Rules | None = None
) -> tuple[dict[str, Changes], int]:
    """Every change of every value, (tick, value), the one at tick 0 included; and the last tick."""
    trial = Trial(layout, rules, order, skip=False)
    trace: dict[str, Changes] = {}

    def watch(world: World) -> None:
        for name, value in values_now(trial).items():
            changes = trace.setdefault(name, [])
            if not changes or changes[-1][1] != value:
                changes.append((world.tick, value))

    trial.watchers = (watch,)
    trial.run(arrivals, ticks=ticks)
    return trace, trial.world.tick


def written(layout: Layout, arrivals: Sequence[Arrival], order: Any, ticks: int, rules: Rules | None = None) -> str:
    """The wave file of the same trial, run as the command runs it."""
    file, trial = StringIO(), Trial(layout, rules, order)
    writer = WaveWriter(file, trial)
    trial.watchers = (writer,)
    trial.run(arrivals, ticks=ticks)
    writer.close()
    return file.getvalue()


def read_back(text: str) -> tuple[dict[str, Changes], VCDVCD]:
    """The changes that the reader finds, (time, value)."""
    found = VCDVCD(vcd_string=text)
    traces = {name: [(time, int(value, 2)) for time, value in found[name].tv] for name in found.signals}
    return traces, found


def assert_agrees(layout: Layout, arrivals: Sequence[Arrival], order: Any, ticks: int) -> dict[str, Changes]:
    expected, last = own_trace(layout, arrivals, order, ticks)
    found, vcd = read_back(written(layout, arrivals, order, ticks))
    assert set(found) == set(expected)
    for name, changes in expected.items():
        assert found[name] == [(tick * TICK_UNITS, value) for tick, value in changes], name
    if expected:
        assert (vcd.begintime, vcd.endtime) == (0, last * TICK_UNITS)
    return expected


@pytest.mark.parametrize("path", sorted(LAYOUTS.glob("*.plan")), ids=lambda path: path.stem)
@pytest.mark.parametrize("every", [None, 10])
def test_layouts_of_ours(path: Path, every: int | None) -> None:
    layout = load_layout(path)
    assert_agrees(layout, arrivals_for(layout, every=every), None, 500)


def test_something_of_every_family_changes() -> None:
    """The comparison is of traces that move: levels, a relay, an inverter, locks, items, deliveries."""
    layout = load_layout(LAYOUTS / "burst-row-of-three-one-relay-more.plan")
    trace = assert_agrees(layout, arrivals_for(layout), None, 500)
    moving = {name.partition(".")[0] for name, changes in trace.items() if len(changes) > 2}
    assert moving == {"lines", "gauges", "relays", "inverters", "locked", "items", "delivered"}


def test_fire_and_furnace_slots() -> None:
    layout = load_layout(LAYOUTS / "kiln-gives-products-only.plan")
    trace = assert_agrees(layout, arrivals_for(layout, {"clay": 2, "fuel": 1}), None, 600)
    slots = {name: [value for _, value in changes] for name, changes in trace.items() if ".furnace_" in name}
    assert [values for name, values in slots.items() if name.endswith("_product")] == [[0, 1, 0, 1, 0]]


@pytest.mark.parametrize("seed", range(60))
def test_random_builds(seed: int) -> None:
    layout, case = random_run(random.Random(f"waves {seed}"))
    arrivals = arrivals_for(layout, {name: min(load, 3) for name, load in case["loads"].items()}, case["every"])
    try:
        Trial(layout).run(arrivals, ticks=120)
    except InputError:
        pytest.skip("the bin has no room for this load")
    assert_agrees(layout, arrivals, case["order"], 120)


def test_time_scale_makes_a_tick_a_twentieth_of_a_second() -> None:
    layout = load_layout(ROW)
    _, vcd = read_back(written(layout, arrivals_for(layout), None, 10))
    assert vcd.timescale["timescale"] == Decimal("0.001")
    assert Decimal(vcd.endtime) * vcd.timescale["timescale"] * default_rules().ticks_per_second == 10


@pytest.mark.parametrize(
    ("ticks_per_second", "unit", "of_100_ticks"),
    [(1, "s", 100), (20, "ms", 5_000), (1000, "ms", 100), (16, "us", 6_250_000), (30, "ns", 3_333_333_333)],
)
def test_time_base(ticks_per_second: int, unit: str, of_100_ticks: int) -> None:
    base = TimeBase.of(ticks_per_second)
    assert (base.unit, base.time(100), base.time(0)) == (unit, of_100_ticks, 0)


def test_wider_levels_where_the_reach_is_longer() -> None:
    text = ONE_KILN.replace('{"handover": 8}', '{"reach": 100}')
    layout = layout_from_json(text)
    found, vcd = read_back(written(layout, arrivals_for(layout, {"feed": 3}), None, 60))
    assert vcd["lines.line_3_1_0"].size == "7"
    assert found["lines.line_3_1_0"][-1][1] == 100


def test_declarations() -> None:
    text = written(load_layout(ROW), (), None, 1)
    assert "$timescale 1 ms $end\n" in text
    assert re.search(r"^\$scope module lines \$end\n\$var wire 4 \S+ line_", text, re.MULTILINE)
    assert re.search(r"^\$var wire 1 \S+ inverter_1_3_2 \$end$", text, re.MULTILINE)
    assert re.search(r"^\$var integer 64 \S+ bin_0_1_3 \$end$", text, re.MULTILINE)
    assert re.search(r"^\$var integer 64 \S+ stream0_feed_to_1_1_0 \$end$", text, re.MULTILINE)
    assert "$date" not in text, "the same trial makes the same file"


def test_only_changes_are_written() -> None:
    layout = load_layout(ROW)
    short, long = (written(layout, arrivals_for(layout), None, ticks) for ticks in (1_000, 1_000_000))
    assert long.rpartition("#")[0] == short.rpartition("#")[0]
    assert long.endswith(f"#{1_000_000 * TICK_UNITS}\n")


@pytest.mark.parametrize(
    ("word", "expected"),
    [("line", "line_3_1_0"), ("two words", "two_words_3_1_0"), ("Ziegel-Öfen\n$end", "Ziegel__fen__end_3_1_0")],
)
def test_identifiers(word: str, expected: str) -> None:
    assert identifier(word, (3, 1, 0)) == expected


def test_streams_whose_names_differ_only_in_blanks(tmp_path: Path) -> None:
    text = ONE_KILN.replace(
        '"streams": [{"name": "feed", "item": "clay", "source": [0, 0, 2], "outputs": [[1, 0, 0]]}]',
        '"streams": [{"name": "a b", "item": "clay", "source": [0, 0, 2], "outputs": [[1, 0, 0]]},'
        ' {"name": "a_b", "item": "clay", "source": [0, 0, 2], "outputs": [[1, 0, 0]]}]',
    )
    layout = layout_from_json(text)
    trace = assert_agrees(layout, arrivals_for(layout, {"a b": 1, "a_b": 1}), None, 60)
    assert {name for name in trace if name.startswith("delivered.")} == {
        "delivered.stream0_a_b_to_1_0_0",
        "delivered.stream1_a_b_to_1_0_0",
    }


def test_command_writes_the_file(tmp_path: Path) -> None:
    path = tmp_path / "row.vcd"
    assert run("trial", ROW, "--ticks", "500", "--waves", str(path)).exit_code == 0
    layout = load_layout(ROW)
    assert path.read_text(encoding="utf-8") == written(layout, arrivals_for(layout), None, 500)
    assert [found.name for found in tmp_path.iterdir()] == ["row.vcd"]
    assert len(VCDVCD(str(path)).signals) == len(values_now(Trial(layout)))
