"""The second opinion is itself checked: FORMATS.md's example, worlds worked out by hand, facts of the rulebook.

Expected values: the example is copied from FORMATS.md ("Commands"), the facts from RULEBOOK.md, section 5; the
tiny worlds were worked out by hand from RULEBOOK.md, and the steps stand beside them. Nothing here comes from a run.
"""

from __future__ import annotations

import ast
import itertools
import json
import random
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from oracle import naive, random_builds
from printed import ONE_KILN, ONE_KILN_TRIAL

Document = dict[str, Any]


def part(kind: str, at: tuple[int, int, int], **attributes: Any) -> Document:
    return {"kind": kind, "at": list(at), **attributes}


def layout(*parts: Document, outputs: list[tuple[int, int, int]] | None = None, **others: Any) -> Document:
    """A layout whose first part is the source of the stream "feed" of clay, if there are outputs."""
    size = [max(p["at"][axis] for p in parts) + 1 for axis in range(3)]
    document: Document = {"format": "splitwright-layout/1", "size": size, "parts": list(parts), **others}
    if outputs:
        feed = {"name": "feed", "item": "clay", "source": parts[0]["at"], "outputs": [list(cell) for cell in outputs]}
        document["streams"] = [feed]
    return document


def test_example_of_formats() -> None:
    assert naive.run(json.loads(ONE_KILN), {"feed": 3}) == ONE_KILN_TRIAL


@pytest.mark.parametrize("order", [None, [(1, 0, 1), (0, 0, 1)]], ids=["file order", "reversed"])
@pytest.mark.parametrize(("handover", "arrivals"), [(8, [17, 25]), (7, [16, 24]), (1, [10, 18])])
def test_two_nodes_and_a_bin(order: list[naive.Cell] | None, handover: int, arrivals: list[int]) -> None:
    """T0 pulls at 1 and pushes at 9 and 17; an item lands in the empty T1 at 9, which moves it on a handover later.

    Handover 8: the second item lands at 17, just before or just after T1 moves the first; at 25 it moves on either way
    (its cooldown, or the handover). Handover 7 and 1: T1 is empty again at 17, and the second goes a handover later.
    """
    build = layout(
        part("bin", (0, 0, 2)),
        part("node", (0, 0, 1), outlet="E"),
        part("node", (1, 0, 1), outlet="D"),
        part("bin", (1, 0, 0)),
        outputs=[(1, 0, 0)],
    )
    document = naive.run(build, {"feed": 2}, order=order, handover=handover, trace=True)
    times = [t for t in range(1, len(document["trace"])) if target(document, t) != target(document, t - 1)]
    assert times == arrivals
    assert (document["tick"], document["at_rest"], len(document["trace"])) == (arrivals[1], True, arrivals[1] + 1)
    assert document["streams"][0]["first_arrival"] == arrivals[0]


def target(document: Document, tick: int) -> Any:
    return document["trace"][tick][0]["1,0,0"]


def test_bare_clock_never_settles_and_overheats() -> None:
    """The inverter lights a line that energises its own mount cell: lit, off, lit ... in each round of settling.

    After 200 rounds it is lit again; then off at 2, lit at 4, off at 6, ...: the 8th time off at 2 + 7 * 4 = 30.
    """
    build = layout(
        part("support", (0, 0, 0)),
        part("inverter", (1, 0, 0), mount="W"),
        part("line", (1, 1, 0)),
        part("support", (0, 1, 0)),
        part("line", (0, 1, 1)),
        part("line", (0, 0, 1)),
    )
    document = naive.run(build, ticks=33, trace=True)
    never, overheats = {"check": "never settles", "tick": 0}, {"check": "overheats", "at": [1, 0, 0], "tick": 30}
    assert document["findings"] == [never, overheats]
    lit = [signals["1,0,0"] for _, signals, _ in document["trace"]]
    assert lit == [1, 1, *[0, 0, 1, 1] * 8]
    assert document["signals"] == {"1,0,0": 1, "1,1,0": 15, "0,1,1": 14, "0,0,1": 13}
    assert (document["tick"], document["at_rest"]) == (33, False)
    assert naive.run(build, ticks=29)["findings"] == [never]
    short = {**build, "rules": {"overheat_window": 28}}  # last minus first at most 27, and it is 28
    assert naive.run(short, ticks=200)["findings"] == [never]


def test_short_pulse_is_stretched() -> None:
    """The node holds its item from 1 to 9; the gauge shows it from 3 to 11; the relay (3 * 4 = 12 ticks) is due at 15.

    By then the input has gone: it comes on all the same and goes off 12 ticks later.
    """
    build = layout(
        part("bin", (0, 0, 2)),
        part("node", (0, 0, 1), outlet="D"),
        part("bin", (0, 0, 0)),
        part("support", (1, 0, 0)),
        part("support", (2, 0, 0)),
        part("support", (3, 0, 0)),
        part("line", (3, 0, 1)),
        part("relay", (2, 0, 1), output="E", delay=4),
        part("gauge", (1, 0, 1), output="E"),
        outputs=[(0, 0, 0)],
        rules={"relay_step": 3},
    )
    document = naive.run(build, {"feed": 1}, trace=True)
    shown = [(signals["1,0,1"], signals["2,0,1"], signals["3,0,1"]) for _, signals, _ in document["trace"]]
    assert shown == [(0, 0, 0)] * 3 + [(1, 0, 0)] * 8 + [(0, 0, 0)] * 4 + [(0, 1, 15)] * 12 + [(0, 0, 0)]
    assert (document["tick"], document["at_rest"]) == (27, True)


def latch_world(**rules: int) -> Document:
    """A relay with a gauge behind that always shows 1, and at its side a gauge whose bin a node empties at tick 1."""
    return layout(
        part("bin", (2, 3, 1), holds=[["clay", 1]]),
        part("node", (2, 3, 0), outlet="D"),
        part("bin", (0, 1, 1), holds=[None, ["sand", 1]]),
        *(part("support", cell) for cell in [(1, 1, 0), (2, 1, 0), (2, 2, 0), (3, 1, 0)]),
        part("gauge", (1, 1, 1), output="E"),
        part("gauge", (2, 2, 1), output="S"),
        part("relay", (2, 1, 1), output="E", delay=3),
        part("line", (3, 1, 1)),
        rules=rules,
    )


def test_latch_ends_and_the_full_delay_begins() -> None:
    """The side gauge goes to 0 at 3 and ends the latch; the relay is scheduled anew then, and comes on at 3 + 6 = 9."""
    document = naive.run(latch_world(), trace=True)
    shown = [(signals["2,2,1"], signals["2,1,1"], signals["3,1,1"]) for _, signals, _ in document["trace"]]
    assert shown == [(1, 0, 0)] * 3 + [(0, 0, 0)] * 6 + [(0, 1, 15)]
    assert (document["tick"], document["at_rest"]) == (9, True)
    later = naive.run(latch_world(gauge_delay=5), trace=True)
    assert [signals["2,1,1"] for _, signals, _ in later["trace"]] == [0] * 12 + [1]


def test_latch_drops_what_falls_due() -> None:
    """The gauge behind comes on at 2, so the relay is due at 10; the gauge at its side latches it from 3 on.

    The node beside that gauge holds something from 1 to 17, so the latch ends at 19; scheduled anew: 19 + 8 = 27.
    """
    build = layout(
        part("bin", (2, 3, 2)),
        part("node", (2, 3, 1), outlet="D"),
        part("bin", (2, 3, 0)),
        part("bin", (0, 1, 1)),
        *(part("support", cell) for cell in [(1, 1, 0), (2, 1, 0), (2, 2, 0)]),
        part("gauge", (1, 1, 1), output="E"),
        part("gauge", (2, 2, 1), output="S"),
        part("relay", (2, 1, 1), output="E", delay=4),
        outputs=[(2, 3, 0)],
    )
    build["streams"].append({"name": "spare", "item": "sand", "source": [0, 1, 1], "outputs": [[2, 3, 0]]})
    document = naive.run(build, {"feed": 2, "spare": 1}, trace=True)
    shown = [tuple(signals.values()) for _, signals, _ in document["trace"]]
    assert shown == [(0, 0, 0)] * 2 + [(1, 0, 0)] + [(1, 1, 0)] * 16 + [(1, 0, 0)] * 8 + [(1, 0, 1)]


@pytest.mark.parametrize(("above", "lower", "upper"), [("support", 15, 0), ("bin", 15, 14)])
@pytest.mark.parametrize("from_above", [False, True])
def test_a_solid_cell_above_cuts_the_step(above: str, lower: int, upper: int, from_above: bool) -> None:
    source = (3, 0, 1) if from_above else (0, 0, 0)
    build = layout(
        part("inverter", source, mount="D"),
        part("line", (1, 0, 0)),
        part(above, (1, 0, 1)),
        part("support", (2, 0, 0)),
        part("line", (2, 0, 1)),
        part("support", (3, 0, 0)),
    )
    signals = naive.run(build)["signals"]
    assert (signals["1,0,0"], signals["2,0,1"]) == ((upper, lower) if from_above else (lower, upper))


@pytest.mark.parametrize(("second", "shown"), [(50, 0), (60, 14), (64, 15)])
def test_gauge_against_its_side_input(second: int, shown: int) -> None:
    """A bin of two slots, read through a support, against a line of level 14 at the side.

    Filled 64 and 50: 1 + 14 * 114/128 = 13.47; 64 and 60: 14.56; only a side input above the reading holds it down.
    """
    build = layout(
        part("bin", (0, 0, 0), holds=[["clay", 64], ["clay", second]]),
        part("support", (1, 0, 0)),
        part("gauge", (2, 0, 0), output="E"),
        part("line", (2, 1, 0)),
        part("line", (2, 2, 0)),
        part("inverter", (2, 3, 0), mount="D"),
        rules={"bin_slots": 2},
    )
    assert naive.run(build)["signals"] == {"2,0,0": shown, "2,1,0": 14, "2,2,0": 15, "2,3,0": 1}


def test_inverter_gives_nothing_to_its_mount_side() -> None:
    build = layout(
        part("inverter", (0, 0, 0), mount="E"),
        part("node", (1, 0, 0), outlet="D"),
        part("node", (0, 1, 0), outlet="D"),
        part("node", (0, 0, 1), outlet="E"),
    )
    assert naive.run(build)["locked"] == ["0,1,0", "0,0,1"]


def test_faces_of_a_furnace() -> None:
    """From a side only what burns, past the clay in the slot before it; to below only the product."""
    build = layout(
        part("furnace", (1, 0, 1), holds=[["sand", 1], None, ["brick", 1]]),
        part("node", (0, 0, 1), outlet="E", holds=[["clay", 1], ["charcoal", 1]]),
        part("node", (1, 0, 0), outlet="D"),
        items={"charcoal": {"burn": 9}},
    )
    document = naive.run(build)
    assert document["contents"] == {
        "1,0,1": [["sand", 1], ["charcoal", 1], None],
        "0,0,1": [["clay", 1], None, None, None, None],
        "1,0,0": [["brick", 1], None, None, None, None],
    }
    assert document["tick"] == 1


def test_progress_runs_back() -> None:
    """Fuel enters at 3 and 9. Progress: 1 to 5 at 3 to 7, then 3 at 8; with fire again 4 at 9, and 8 at 13: an item."""
    build = layout(
        part("bin", (0, 0, 1)),
        part("node", (0, 0, 0), outlet="E"),
        part("furnace", (1, 0, 0), holds=[["clay", 1]]),
        items={"clay": {"fires_to": "brick"}, "charcoal": {"burn": 5}},
        rules={"firing": 8, "period": 2},
        outputs=[(1, 0, 0)],
    )
    build["streams"][0]["item"] = "charcoal"
    document = naive.run(build, {"feed": 2}, every=6)
    assert (document["tick"], document["contents"]["1,0,0"]) == (13, [None, None, ["brick", 1]])
    assert document["streams"][0]["last_arrival"] == 9


@pytest.mark.parametrize(
    ("more", "levels", "locked"),
    [
        # Straight: the last line points on into the support at its end, whose node is locked; no line points sideways.
        ([], [15, 14, 13], ["4,1,0"]),
        # Bent to the north: the corner connects W and N, so it no longer points E; the end points N and S only.
        ([part("line", (3, 1, 0))], [15, 14, 13], []),
        # A gauge connects with any side. It reads the empty node behind it, so it locks nothing in front.
        ([part("gauge", (3, 1, 0), output="W")], [15, 14, 13], []),
        # A relay across connects nothing, so the end is straight again. The relay has no input behind it.
        ([part("relay", (3, 1, 0), output="W")], [15, 14, 13], ["4,1,0"]),
    ],
    ids=["straight", "bent", "gauge", "relay across"],
)
def test_where_a_line_points(more: list[Document], levels: list[int], locked: list[str]) -> None:
    """An inverter on the ground is lit for good and feeds three lines; nodes stand around them."""
    build = layout(
        part("inverter", (0, 0, 0), mount="D"),
        *(part("line", (x, 0, 0)) for x in (1, 2, 3)),
        part("support", (1, 1, 0)),
        part("support", (4, 0, 0)),
        *(part("node", cell, outlet="D") for cell in [(4, 1, 0), (1, 1, 1), (2, 1, 0)]),
        *more,
    )
    document = naive.run(build)
    assert [document["signals"][f"{x},0,0"] for x in (1, 2, 3)] == levels
    assert document["locked"] == locked


@pytest.mark.parametrize(
    ("burn", "fuel", "tick", "contents"),
    [
        (12, 1, 10, [["clay", 2], None, ["brick", 2]]),  # items at 5 and 10; 12 ticks of fire, so 2 steps more: none
        (14, 1, 10, [["clay", 2], None, ["brick", 2]]),
        (15, 1, 15, [["clay", 1], None, ["brick", 3]]),
        (12, 2, 20, [None, None, ["brick", 4]]),  # the second fire is lit at 13, the tick at which the first is out
    ],
)
def test_kiln(burn: int, fuel: int, tick: int, contents: list[Any]) -> None:
    """Five ticks an item; the fire is lit at 1 and progress grows in that tick already."""
    build = layout(
        part("furnace", (0, 0, 0), holds=[["clay", 4], ["charcoal", fuel]]),
        items={"clay": {"fires_to": "brick"}, "charcoal": {"burn": burn}},
        rules={"firing": 5},
    )
    document = naive.run(build, trace=True)
    assert (document["tick"], document["at_rest"], len(document["trace"])) == (tick, True, tick + 1)
    assert document["contents"]["0,0,0"] == contents


def row(locked: bool) -> Document:
    """Nodes T0 to T2, B1 and B2 below, two targets; with `locked` a lit inverter beside each B."""
    wiring = [p for x in (1, 2) for p in (part("support", (x, 1, 0)), part("inverter", (x, 1, 1), mount="D"))]
    return layout(
        part("bin", (0, 0, 3)),
        *(part("node", (x, 0, 2), outlet="E") for x in (0, 1, 2)),
        *(part("node", (x, 0, 1), outlet="D") for x in (1, 2)),
        *(part("bin", (x, 0, 0)) for x in (1, 2)),
        *(wiring if locked else []),
        outputs=[(1, 0, 0), (2, 0, 0)],
    )


@pytest.mark.parametrize("handover", [7, 8])
def test_facts_of_every_build(handover: int) -> None:
    """Facts 1 and 2 of RULEBOOK.md section 5, for every update order."""
    nodes = [(0, 0, 2), (1, 0, 2), (2, 0, 2), (1, 0, 1), (2, 0, 1)]
    for order in itertools.permutations(nodes):
        free = naive.run(row(locked=False), {"feed": 1}, order=list(order), handover=handover)
        assert (free["streams"][0]["delivered"], free["at_rest"]) == ([1, 0], True)
        held = naive.run(row(locked=True), {"feed": 1}, order=list(order), handover=handover)
        assert held["contents"]["2,0,2"][0] == ["clay", 1]
        assert (held["locked"], held["streams"][0]["held"]) == (["1,0,1", "2,0,1"], 1)


def test_load_comes_one_by_one() -> None:
    build = row(locked=True)
    cut = naive.run(build, {"feed": 3}, every=10, ticks=10)
    assert sum(slot[1] for slots in cut["contents"].values() for slot in slots if slot) == 1
    assert not cut["at_rest"]
    whole = naive.run(build, {"feed": 3}, every=50)
    assert (whole["streams"][0]["held"], whole["at_rest"]) == (3, True)
    assert whole["tick"] == 100 + naive.run(build, {"feed": 1})["tick"]  # put in after 0, 50 and 100
    with pytest.raises(ValueError, match="feed"):
        naive.run({**build, "rules": {"bin_slots": 1}}, {"feed": 65})
    assert naive.run(build, ticks=0)["contents"]["0,0,3"][0] == ["clay", 36]  # 18 an output


def test_will_fire_looks_ahead_rightly() -> None:
    """The look-ahead against the furnace's own turns, played until the fire is out and progress has run back."""
    seen = set()
    for feed, fuel, fire, progress in itertools.product([0, 1], [0, 1], range(8), range(5)):
        holds = [["clay", 1] if feed else None, ["charcoal", 1] if fuel else None]
        items = {"clay": {"fires_to": "brick"}, "charcoal": {"burn": 2}}
        world = naive.World(layout(part("furnace", (0, 0, 0), holds=holds), items=items, rules={"firing": 5}))
        world.fire[0, 0, 0], world.progress[0, 0, 0] = fire, progress
        foreseen = world.will_fire((0, 0, 0))
        assert foreseen == any(world.furnace_turn((0, 0, 0)) for _ in range(20))
        seen.add(foreseen)
    assert seen == {True, False}


def cases(count: int, **options: Any) -> list[tuple[Document, Document]]:
    found = []
    for number in range(count):
        rng = random.Random(f"self/{number}")
        build = random_builds.random_layout(rng, **options)
        found.append((build, random_builds.random_case(rng, build)))
    return found


def test_rest_is_exact() -> None:
    """The tick at which rest is first seen is that of the last change, and nothing changes in the 150 ticks after."""
    rests = 0
    for build, case in cases(60):
        try:
            document = naive.run(build, **case, max_ticks=250, trace=True)
        except ValueError:
            continue
        if document["at_rest"]:
            rests += 1
            tick = document["tick"]
            assert len(document["trace"]) == tick + 1
            longer = naive.run(build, **case, ticks=tick + 150, trace=True)
            assert longer["trace"][: tick + 1] == document["trace"]
            assert all(entry == document["trace"][tick] for entry in longer["trace"][tick:])
            assert (longer["tick"], longer["at_rest"]) == (tick + 150, True)
    assert rests > 20


def test_items_are_kept() -> None:
    """Without furnaces no item is made or lost: what is there at the end is what was held plus what was put in."""
    for build, case in cases(60):
        if any(p["kind"] == "furnace" for p in build["parts"]):
            continue
        try:
            document = naive.run(build, **{**case, "every": None}, ticks=60)
        except ValueError:
            continue
        held = sum(slot[1] for p in build["parts"] for slot in p.get("holds", []) if slot)
        there = sum(slot[1] for slots in document["contents"].values() for slot in slots if slot)
        assert there == held + sum(case["loads"].values())


def test_random_layouts_are_valid(repository: Path) -> None:
    schema = json.loads((repository / "specs" / "schema" / "splitwright-layout-1.json").read_text(encoding="utf-8"))
    validator = jsonschema.Draft202012Validator(schema)
    for build, case in cases(80) + cases(30, shared_cells=True):
        assert [error.message for error in validator.iter_errors(build)] == []
        cells = [tuple(p["at"]) for p in build["parts"]]
        assert len(cells) == len(set(cells))
        assert all(place < limit for cell in cells for place, limit in zip(cell, build["size"], strict=True))
        kinds = {tuple(p["at"]): p["kind"] for p in build["parts"]}
        for stream in build.get("streams", []):
            assert kinds[tuple(stream["source"])] == "bin"
            assert all(kinds[tuple(cell)] in ("bin", "node", "furnace") for cell in stream["outputs"])
        world = naive.World(build, case["order"])
        for cell, slots in world.slots.items():
            slot_count = {"bin": world.rules["bin_slots"], "node": world.rules["node_slots"], "furnace": 3}
            assert len(slots) == slot_count[kinds[cell]]
            assert all(slot is None or 1 <= slot[1] <= world.limit(slot[0]) for slot in slots)
            assert kinds[cell] != "furnace" or slots[naive.FUEL] is None or world.burn_of_fuel(cell) > 0


def test_random_cases_do_something() -> None:
    """Floors well below what was measured over 1,000 cases, so that the comparison cannot become idle unnoticed."""
    shares = random_builds.measured(50, seed=7, ticks=120)
    floors = {"delivered": 0.4, "more than 5 changes": 0.15, "latched": 0.08, "locked and unlocked": 0.25}
    floors |= {"overheats": 0.02, "never settles": 0.03, "furnace fired or lit": 0.03}
    assert {name: shares.get(name, 0.0) for name in floors if shares.get(name, 0.0) < floors[name]} == {}


@pytest.mark.parametrize("name", ["__init__", "naive", "random_builds"])
def test_the_second_opinion_shares_nothing(name: str) -> None:
    """Only the standard library and itself."""
    tree = ast.parse((Path(naive.__file__).parent / f"{name}.py").read_text(encoding="utf-8"))
    imported = [n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)]
    imported += [alias.name for n in ast.walk(tree) if isinstance(n, ast.Import) for alias in n.names]
    assert {top.split(".")[0] for top in imported} <= sys.stdlib_module_names | {"oracle"}
