"""The proof of a build order complains of every wrong one, and every sentence of the build order can be said."""

from __future__ import annotations

import ast
import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from building_table import BRIMMED, WALLED_IN
from sim.analysis.building import BuildStep, build_order, filling, filling_told, gone_told, instruction, prove
from sim.world.files.plan import layout_from_plan
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, Direction, neighbours
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Support
from sim.world.rulebook import default_rules
from sim.world.statement import Statement
from splitwright.words import english
from splitwright.words.catalogue import catalogue
from splitwright.words.labels import fields_of
from strategies import layouts
from worlds import drawn

ROOT = Path(__file__).resolve().parent.parent
ROW = ROOT / "specs" / "layouts" / "burst-row-of-three.plan"


def numbered(steps: Iterable[BuildStep]) -> list[BuildStep]:
    """The steps with their numbers put right, so that a proof has to find something else."""
    return [replace(step, number=number) for number, step in enumerate(steps, 1)]


def keys(layout: Layout, steps: Iterable[BuildStep]) -> set[str]:
    return {fault.key.removeprefix("building.fault_") for fault in prove(layout, steps)}


@pytest.fixture(scope="module")
def row() -> Layout:
    return load_layout(ROW)


@pytest.fixture(scope="module")
def steps(row: Layout) -> tuple[BuildStep, ...]:
    return build_order(row).steps


def test_the_row_itself_is_proved(row: Layout, steps: tuple[BuildStep, ...]) -> None:
    assert prove(row, steps) == []
    assert {step.action for step in steps} == {"place", "remove"}


def test_no_step_can_be_dropped(row: Layout, steps: tuple[BuildStep, ...]) -> None:
    for i, step in enumerate(steps):
        found = keys(row, numbered(steps[:i] + steps[i + 1 :]))
        if step.action == "remove":
            assert found & {"left", "taken"}
        elif step.is_temporary:
            assert {"nothing_there", "not_there"} <= found
        else:
            assert "missing" in found


def test_no_temporary_support_can_be_left(row: Layout, steps: tuple[BuildStep, ...]) -> None:
    assert "left" in keys(row, [step for step in steps if step.action == "place"])
    for step in steps:
        if step.action == "remove":
            cell = step.part.at
            faults = prove(row, numbered(one for one in steps if one != step))
            told = [fault for fault in faults if fault.key in ("building.fault_left", "building.fault_taken")]
            assert any(cell in fault.cells for fault in told)


def test_no_step_can_come_before_what_it_goes_against(row: Layout, steps: tuple[BuildStep, ...]) -> None:
    """Each step, put right before the placing of what it goes against or hangs on."""
    looked = 0
    for i, step in enumerate(steps):
        bases = [j for j in range(i) if steps[j].part.at == step.against and steps[j].action == "place"]
        if step.action == "place" and bases:
            moved = [*steps[: bases[-1]], step, *steps[bases[-1] : i], *steps[i + 1 :]]
            assert "nothing_there" in keys(row, numbered(moved))
            looked += 1
    assert looked >= 30


def test_a_temporary_support_stays_as_long_as_it_is_needed(row: Layout, steps: tuple[BuildStep, ...]) -> None:
    for i, step in enumerate(steps):
        if step.action == "remove":
            swapped = [*steps[: i - 1], step, steps[i - 1], *steps[i + 1 :]]
            assert keys(row, numbered(swapped)) & {"nothing_there", "not_there"}


def turned(part: Part) -> Iterator[Part]:
    """The part in every other direction that it could have."""
    ways: Sequence[Direction] = ("E", "W", "N", "S")
    for way in ways:
        if isinstance(part, Node) and way != part.outlet:
            yield replace(part, outlet=way)
        if isinstance(part, Gauge) and way != part.output:
            yield replace(part, output=way)
        if isinstance(part, Inverter) and way != part.mount:
            yield replace(part, mount=way)


def test_no_part_can_be_turned(row: Layout, steps: tuple[BuildStep, ...]) -> None:
    looked = 0
    for i, step in enumerate(steps):
        for part in turned(step.part):
            found = keys(row, [*steps[:i], replace(step, part=part), *steps[i + 1 :]])
            assert {"facing", "not_in_layout"} <= found
            looked += 1
    assert looked >= 25


def test_no_step_can_go_against_another_cell(row: Layout, steps: tuple[BuildStep, ...]) -> None:
    """A node or a hanging part has no choice; a body has, among bodies beside it."""
    for i, step in enumerate(steps):
        if step.action == "remove":
            continue
        there = {one.part.at for one in steps[:i] if one.action == "place"}
        for cell in {*neighbours(step.part.at), (9, 9, 9)} - {step.against}:
            found = keys(row, [*steps[:i], replace(step, against=cell), *steps[i + 1 :]])
            if not isinstance(step.part, (Support, Bin, Furnace)):
                assert found & {"aimed_wrong", "hangs_wrong"}
            elif cell not in there and cell[2] >= 0:
                assert "nothing_there" in found


@settings(max_examples=150)
@given(layouts(most_parts=14), st.randoms(use_true_random=False))
def test_whatever_is_proved_ends_in_the_layout(layout: Layout, rng: random.Random) -> None:
    """Steps in any order: if the proof has no fault but parts that are missing, a replay by hand of the ends agrees."""
    steps = list(build_order(layout).steps)
    rng.shuffle(steps)
    faults = prove(layout, numbered(steps))
    if {fault.key for fault in faults} <= {"building.fault_missing"}:
        ended: dict[Cell, Part] = {}
        for step in steps:
            if step.action == "place":
                assert step.part.at not in ended
                ended[step.part.at] = step.part
            else:
                del ended[step.part.at]
        assert ended.items() <= layout.by_cell.items()
        assert len(layout.parts) - len(ended) == len(faults)


def put(part: Part, against: Cell, **more: object) -> BuildStep:
    """A step that places a part; all else as it should be unless stated."""
    facing = getattr(part, "outlet", getattr(part, "mount", getattr(part, "output", None)))
    values = {"number": 0, "action": "place", "part": part, "is_temporary": False, "against": against, "facing": facing}
    return BuildStep(**{**values, "layer": 0, "why": (), **more})  # type: ignore[arg-type]


def take(part: Part, **more: object) -> BuildStep:
    """A step that takes a temporary support away."""
    x, y, z = part.at
    return put(part, (x, y, z - 1), **{"action": "remove", "is_temporary": True, "facing": None, **more})


def rest(cell: Cell, against: Cell) -> BuildStep:
    return put(Support(cell), against, is_temporary=True)


S, A, GROUND = Support((0, 0, 0)), Support((1, 0, 0)), (0, 0, -1)
ON_GROUND = put(S, GROUND)
BOX = [  # five sides of the cell 1,1,0
    put(Support(cell), (cell[0], cell[1], -1)) for cell in ((1, 0, 0), (0, 1, 0), (2, 1, 0), (1, 2, 0))
]
LID = [
    rest((1, 0, 1), (1, 0, 0)),
    put(Support((1, 1, 1)), (1, 0, 1)),
    take(Support((1, 0, 1))),
]

WRONG: list[tuple[str, str, list[BuildStep], set[str]]] = [
    ("below the ground", "#", [ON_GROUND, put(Support(GROUND), (0, 0, -2))], {"outside", "not_in_layout", "reach"}),
    ("a cell twice", "#", [ON_GROUND, ON_GROUND], {"taken"}),
    ("where a temporary one stands", "#", [rest((0, 0, 0), GROUND), ON_GROUND], {"taken", "left"}),
    ("not beside", "# . #", [ON_GROUND, put(Support((2, 0, 0)), (0, 0, 0))], {"not_beside"}),
    ("against itself", "#", [put(S, (0, 0, 0))], {"not_beside", "nothing_there"}),
    ("against nothing", "# / #", [put(Support((0, 0, 1)), (0, 0, 0)), ON_GROUND], {"nothing_there"}),
    ("against a line", "- #", [put(Line((0, 0, 0)), GROUND), put(A, (0, 0, 0))], {"nothing_there"}),
    ("hung on a bin", "B / -", [put(Bin((0, 0, 0)), GROUND), put(Line((0, 0, 1)), (0, 0, 0))], {"nothing_there"}),
    ("a line hung on a side", "# -", [ON_GROUND, put(Line((1, 0, 0)), (0, 0, 0))], {"hangs_wrong"}),
    ("an inverter on another side", "iE #",
     [put(A, (1, 0, -1)), put(Inverter((0, 0, 0), "E"), GROUND)], {"hangs_wrong"}),
    ("a node aimed down", "nE #", [put(A, (1, 0, -1)), put(Node((0, 0, 0), "E"), GROUND)], {"aimed_wrong"}),
    ("another direction told", "nD", [put(Node((0, 0, 0), "D"), GROUND, facing="E")], {"facing"}),
    ("a direction told of a support", "#", [put(S, GROUND, facing="E")], {"facing"}),
    ("taken away for good", "#", [ON_GROUND, take(S)], {"not_temporary", "missing"}),
    ("taken away, not said to be temporary", "#",
     [rest((1, 0, 0), (1, 0, -1)), take(A, is_temporary=False), ON_GROUND], {"not_temporary"}),
    ("taken away twice", "#", [rest((1, 0, 0), (1, 0, -1)), take(A), take(A), ON_GROUND], {"not_there"}),
    ("a temporary bin", "#",
     [put(Bin((1, 0, 0)), (1, 0, -1), is_temporary=True), take(Bin((1, 0, 0))), ON_GROUND], {"temporary_kind"}),
    ("taken away from under a line", "# . / . -",
     [ON_GROUND, rest((1, 0, 0), (1, 0, -1)), put(Line((1, 0, 1)), (1, 0, 0)), take(A)], {"still_hangs"}),
    ("taken away from beside an inverter", "# iE",
     [ON_GROUND, rest((2, 0, 0), (2, 0, -1)), put(Inverter((1, 0, 0), "E"), (2, 0, 0)), take(Support((2, 0, 0)))],
     {"still_hangs"}),
    ("left standing", "#", [ON_GROUND, rest((1, 0, 0), (1, 0, -1))], {"left"}),
    ("left where a part should stand", "# #", [ON_GROUND, rest((1, 0, 0), (1, 0, -1))], {"left"}),
    ("another part", "#", [put(Furnace((0, 0, 0)), GROUND)], {"not_in_layout"}),
    ("another finish", "B", [put(Bin((0, 0, 0), "marked"), GROUND)], {"not_in_layout"}),
    ("one too many", "# .", [ON_GROUND, put(A, (1, 0, -1))], {"not_in_layout"}),
    ("missing", "# #", [ON_GROUND], {"missing"}),
    ("back to a lower layer", "# #", [put(S, GROUND, layer=1), put(A, (1, 0, -1))], {"layer"}),
    ("placed in a walled-in cell", ". # . ; # # # ; . # . / . . . ; . # . ; . . .",
     [*BOX, *LID, put(Support((1, 1, 0)), (1, 1, -1))], {"reach"}),
    ("taken out of a walled-in cell", ". # . ; # . # ; . # . / . . . ; . # . ; . . .",
     [*BOX, rest((1, 1, 0), (1, 1, -1)), *LID, take(Support((1, 1, 0)))], {"reach"}),
]  # fmt: skip


@pytest.mark.parametrize(("drawing", "steps", "found"), [one[1:] for one in WRONG], ids=[one[0] for one in WRONG])
def test_each_kind_of_fault(drawing: str, steps: list[BuildStep], found: set[str]) -> None:
    """Just these faults, no others."""
    assert keys(drawn(drawing), numbered(steps)) == found


def test_a_wrong_number() -> None:
    assert keys(drawn("#"), [replace(ON_GROUND, number=2)]) == {"number"}


def test_a_walled_in_cell_is_open_at_wiring() -> None:
    """As the last but one of ``WRONG``, with a line in place of one wall."""
    layout = drawn(". # . ; # # # ; . - . / . . . ; . # . ; . . .")
    line = put(Line((1, 0, 0)), (1, 0, -1))
    lid = [rest((0, 1, 1), (0, 1, 0)), put(Support((1, 1, 1)), (0, 1, 1)), take(Support((0, 1, 1)))]
    assert keys(layout, numbered([line, *BOX[1:], *lid, put(Support((1, 1, 0)), (1, 1, -1))])) == set()


def test_the_proof_shares_no_code_with_the_finder() -> None:
    """It imports records only."""
    tree = ast.parse((ROOT / "sim" / "analysis" / "building" / "proof.py").read_text(encoding="utf-8"))
    modules = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    imported = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    assert not imported
    assert {module for module in modules if module and module.startswith("sim.")} == {
        "sim.analysis.building.step", "sim.world.geometry", "sim.world.layout", "sim.world.parts", "sim.world.statement"
    }  # fmt: skip
    names = {a.name for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) for a in node.names}
    assert names & {"step", "neighbours", "is_ground", "VECTORS"} == set()


FILLED = (
    ("B", "holds 0,0,0 clay 3"),
    ("nE nW", "holds 0,0,0 clay 1"),
    ("- ; # ; nS / # ; gN ; B", "holds 0,0,1 clay 5"),
)


def everything_said() -> Iterator[Statement]:
    """Statements of every kind: of orders, of parts that can't be placed, of faults."""
    small = ("# # # # / B # gE -", "gE", "nE", ". / . / #", ". / -", "# B* / r2E .")
    for layout in (load_layout(ROW), *map(drawn, small), WALLED_IN):
        order = build_order(layout)
        yield from order.why_impossible
        for step in order.steps:
            yield instruction(step, layout)
            yield from step.why
    for _, drawing, steps, _ in WRONG:
        yield from prove(drawn(drawing), numbered(steps))
    yield from prove(drawn("#"), [replace(ON_GROUND, number=2)])
    for layout in (layout_from_plan(BRIMMED), *(drawn(drawing, holds) for drawing, holds in FILLED)):
        found = filling(layout, default_rules())
        assert found is not None
        yield filling_told(found)
        for fill in found.steps:
            yield from gone_told(fill)


def test_every_phrase_is_used_with_just_its_fields() -> None:
    said = {statement.key: set(statement.values) for statement in everything_said()}
    phrases = {key: fields_of(text) for key, text in catalogue("en").items() if key.startswith("building.")}
    assert said == phrases


def test_sentences() -> None:
    layout, around = drawn(". # / nE gE"), drawn("# B* / r2E .")
    order, relay = build_order(layout), build_order(around)
    words = english()
    assert [words.text(instruction(step, around)) for step in relay.steps] == [
        "Place the support at 0,0,0.",
        "Place the bin at 1,0,0, marked.",
        "Place the relay at 0,0,1 with its output to the east, delay 2.",
    ]
    assert [words.text(instruction(step, layout)) for step in order.steps] == [
        "Place the support at 1,0,0.",
        "Place a temporary support at 1,0,1.",
        "Place the node at 0,0,1 with its outlet to the east.",
        "Take the temporary support at 1,0,1 away again.",
        "Place the gauge at 1,0,1 with its output to the east; it reads the node at 0,0,1 behind it.",
    ]
    assert [" ".join(words.text(why) for why in step.why) for step in order.steps] == [
        "It goes against the ground at 1,0,-1.",
        "It goes against the support at 1,0,0. "
        "Temporary, so that the node at 0,0,1 can be aimed east.",
        "It goes against the support at 1,0,1, so that its outlet faces east.",
        "No longer needed: the node at 0,0,1 stands.",
        "It hangs on the support at 1,0,0.",
    ]


def test_sentences_of_a_row_of_temporary_supports() -> None:
    why = [[english().text(reason) for reason in step.why] for step in build_order(drawn("- / B")).steps]
    assert why[1:3] == [
        [
            "It goes against the ground at 1,0,-1.",
            "Temporary, one of a row that leads to where the bin at 0,0,1 is to stand.",
            "The support at 1,0,0 stands outside of the site as long as it is there.",
        ],
        [
            "It goes against the support at 1,0,0.",
            "Temporary, so that the bin at 0,0,1 has something to go against.",
            "The support at 1,0,1 stands outside of the site as long as it is there.",
        ],
    ]


def test_every_step_says_why_and_points_to_its_part(row: Layout, steps: tuple[BuildStep, ...]) -> None:
    for step in steps:
        assert step.why
        assert step.part.at in instruction(step, row).cells
        if step.action == "place":
            assert step.against in {cell for why in step.why for cell in why.cells}
