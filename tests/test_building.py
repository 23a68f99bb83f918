"""The build order: small builds by hand, every layout there is, and random ones, each with its proof."""

from __future__ import annotations

import random
import shutil
from collections import defaultdict
from collections.abc import Callable, Iterable
from itertools import permutations
from pathlib import Path

import networkx as nx
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from building_table import BUILT, UNBUILT, WALLED_IN, Built, Unbuilt
from commands import run
from hall_plans import hall as two_row_hall
from halls import hall as bin_hall
from halls import locked_hall
from sim.analysis.building import BuildOrder, BuildStep, build_order, prove
from sim.analysis.building.anchors import anchors
from sim.analysis.building.finding import Crew
from sim.analysis.building.site import Site
from sim.analysis.checks.standing import no_support
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, cell_text, is_ground, neighbours, step
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.rulebook import default_rules
from sim.world.statement import Mention, Statement
from splitwright.words import english
from strategies import layouts, parts_at
from worlds import drawn

SPECS = Path(__file__).resolve().parent.parent / "specs"
HAND_MADE = sorted((SPECS / "layouts").glob("*.plan"))
PROPOSED = sorted((SPECS / "results").glob("*-smallest.json"))


def told(steps: Iterable[BuildStep]) -> list[str]:
    """The steps in the form of ``building_table``."""
    signs = {("place", False): "+", ("place", True): "(+)", ("remove", True): "(-)"}
    return [
        " ".join(
            [
                signs[one.action, one.is_temporary],
                *([] if one.is_temporary else [one.part.kind]),
                f"{cell_text(one.part.at)} > {cell_text(one.against)}",
            ]
        )
        for one in steps
    ]


def expected(steps: str) -> list[str]:
    return [one.strip() for one in steps.split(";") if one.strip()]


def spoken_of(statements: Iterable[Statement], key: str) -> set[Cell]:
    """The cells of the parts that statements of one key are about."""
    parts = [one.values["part"] for one in statements if one.key == f"building.{key}"]
    return {part.at for part in parts if isinstance(part, Mention)}


def without_support(layout: Layout) -> set[Cell]:
    """What the design checks say can't stand."""
    rules = layout.rules_in_force(default_rules())
    return {finding.at for finding in no_support(layout, rules) if finding.at is not None}


def assert_proved(layout: Layout) -> BuildOrder:
    """Every part is placed but those that are named, and the proof misses just these."""
    order = build_order(layout)
    faults = prove(layout, order.steps)
    named = spoken_of(order.why_impossible, "hangs_on_nothing") | spoken_of(order.why_impossible, "no_way_found")
    assert {fault.key for fault in faults} <= {"building.fault_missing"}
    assert spoken_of(faults, "fault_missing") == named
    assert len(order.why_impossible) == len(named)
    assert spoken_of(order.why_impossible, "hangs_on_nothing") == without_support(layout)
    return order


def assert_buildable(layout: Layout) -> BuildOrder:
    """Every part is placed."""
    order = assert_proved(layout)
    assert order.why_impossible == ()
    return order


@pytest.mark.parametrize("built", BUILT, ids=[built.rule for built in BUILT])
def test_small_builds_by_hand(built: Built) -> None:
    order = assert_buildable(drawn(built.drawing))
    assert told(order.steps) == expected(built.steps)
    assert "".join(str(one.layer) for one in order.steps) == built.layers
    assert [one.number for one in order.steps] == list(range(1, len(order.steps) + 1))


@pytest.mark.parametrize("unbuilt", UNBUILT, ids=[unbuilt.rule for unbuilt in UNBUILT])
def test_what_nobody_can_place_is_told_and_the_rest_is_placed(unbuilt: Unbuilt) -> None:
    order = assert_proved(drawn(unbuilt.drawing))
    assert tuple(english().text(why) for why in order.why_impossible) == unbuilt.sentences
    assert told(order.steps) == expected(unbuilt.steps)


def test_what_is_set_by_placing() -> None:
    order = build_order(drawn("# iW r1S nD B gN - F"))
    facing = {one.part.kind: one.facing for one in order.steps}
    assert facing == {
        "support": None, "inverter": "W", "relay": "S", "node": "D", "bin": None, "gauge": "N", "line": None,
        "furnace": None,
    }  # fmt: skip


def test_where_no_way_is_found_that_is_told() -> None:
    order = assert_proved(WALLED_IN)
    assert spoken_of(order.why_impossible, "no_way_found") == {(2, 1, 1)}
    assert spoken_of(order.why_impossible, "hangs_on_nothing") == set()


@pytest.mark.parametrize("part", [Line((0, 0, 1)), Relay((0, 0, 1), "E"), Inverter((0, 0, 0), "E")])
def test_nothing_hangs_on_what_was_not_placed(part: Part) -> None:
    """As where no way was found to place what carries it."""
    crew = Crew(Site((2, 1, 2)))
    crew.place(part)
    assert crew.steps == []
    assert spoken_of(crew.no_way, "no_way_found") == {part.at}


@pytest.mark.parametrize("path", HAND_MADE, ids=lambda path: path.stem)
def test_layouts_made_by_hand(path: Path) -> None:
    assert_independent_order(assert_buildable(load_layout(path)))


@pytest.mark.parametrize("path", PROPOSED, ids=lambda path: path.stem)
def test_proposed_layouts(path: Path) -> None:
    assert_independent_order(assert_buildable(load_layout(path)))


def test_there_are_layouts_to_look_at() -> None:
    assert len(HAND_MADE) >= 12
    assert len(PROPOSED) >= 4


@pytest.mark.parametrize("layout", [two_row_hall(4), locked_hall(3), bin_hall()], ids=("cross", "locked", "bins"))
def test_halls_made_by_hand(layout: Layout) -> None:
    assert_independent_order(assert_proved(layout))


@pytest.mark.slow
@pytest.mark.parametrize("spec", ["sixteen-kilns", "hall-by-output", "kilns-in-one-row"])
def test_what_propose_makes_now(spec: str, tmp_path: Path) -> None:
    pieces = shutil.copy(SPECS / "pieces" / "default.json", tmp_path / "pieces.json")
    words = ("--pieces", str(pieces), "--out", str(tmp_path / "out"), "--time-limit", "60")
    result = run("propose", str(SPECS / f"{spec}.toml"), *words)
    assert result.exit_code == 0, result.stderr
    written = sorted((tmp_path / "out").glob("*.plan"))
    assert written
    for path in written:
        layout = load_layout(path)
        assert len(layout.parts) > 100
        assert_independent_order(assert_buildable(layout))


def hangs_on(part: Part) -> Cell | None:
    """Rulebook section 2, once more for this file."""
    match part:
        case Line() | Relay() | Gauge():
            return (part.at[0], part.at[1], part.at[2] - 1)
        case Inverter():
            return step(part.at, part.mount)
        case _:
            return None


def assert_independent_order(order: BuildOrder) -> None:
    """A topological order of the graph "hangs on", made here from the rulebook; layers never fall."""
    place = {one.part.at: one.number for one in order.steps if not one.is_temporary}
    parts = {one.part.at: one.part for one in order.steps if not one.is_temporary}
    graph = nx.DiGraph((base, cell) for cell, part in parts.items() if (base := hangs_on(part)) and not is_ground(base))
    assert all(place[base] < place[cell] for base, cell in graph.edges)
    layers = [one.layer for one in order.steps]
    assert layers == sorted(layers)
    assert all(one.layer >= one.part.at[2] for one in order.steps if not one.is_temporary)


def early(order: BuildOrder) -> set[Cell]:
    """Parts that are placed when a higher layer is under way."""
    return {one.part.at for one in order.steps if not one.is_temporary and one.layer > one.part.at[2]}


@pytest.mark.parametrize("path", [*HAND_MADE, *PROPOSED], ids=lambda path: path.stem)
def test_a_layer_is_done_before_the_next_one(path: Path) -> None:
    """Nothing that people or the proposer built so far needs an exception."""
    assert early(build_order(load_layout(path))) == set()


@settings(max_examples=300)
@given(layouts(most_parts=30))
def test_random_layouts(layout: Layout) -> None:
    assert_independent_order(assert_proved(layout))


def dense(seed: int) -> Layout:
    """A site most of which is taken, with many nodes that push into what is no body."""
    rng = random.Random(seed)
    size = (rng.randint(1, 5), rng.randint(1, 5), rng.randint(1, 4))
    kinds: list[Callable[[Cell], Part]] = [
        Bin, Furnace, Support, Line,
        lambda at: Node(at, rng.choice("EWNSDDD")),  # type: ignore[arg-type]
        lambda at: Inverter(at, rng.choice("EWNSD")),  # type: ignore[arg-type]
        lambda at: Relay(at, rng.choice("EWNS")),  # type: ignore[arg-type]
        lambda at: Gauge(at, rng.choice("EWNS")),  # type: ignore[arg-type]
    ]  # fmt: skip
    weights = [1, 1, rng.randint(0, 9), 3, rng.randint(0, 20), 1, 1, 1]
    share = rng.choice((0.2, 0.6, 0.9, 1.0))
    cells = [(x, y, z) for x in range(size[0]) for y in range(size[1]) for z in range(size[2])]
    chosen = [cell for cell in cells if rng.random() < share]
    return Layout("", size, parts=tuple(rng.choices(kinds, weights)[0](cell) for cell in chosen))


def test_dense_layouts() -> None:
    """All is placed but what the design checks name. What is looked at does happen: rows of several temporary supports,
    ones outside of the site, layers that must wait."""
    seen: defaultdict[str, int] = defaultdict(int)
    for seed in range(300):
        layout = dense(seed)
        order = assert_proved(layout)
        assert_independent_order(order)
        assert spoken_of(order.why_impossible, "no_way_found") == set()
        reasons = {why.key for one in order.steps for why in one.why}
        seen["waits"] += bool(early(order))
        seen["row"] += "building.temporary_way" in reasons
        seen["outside"] += "building.outside" in reasons
        seen["aim"] += "building.temporary_aim" in reasons
        seen["impossible"] += bool(order.why_impossible)
    assert min(seen[name] for name in ("waits", "row", "outside", "aim", "impossible")) >= 30


def test_parts_far_up_in_the_air() -> None:
    """The row of temporary supports is some way down then; in a small site of that height it is the shortest."""
    far = [Support((60 * i, 60, 127)) for i in range(3)]
    order = assert_buildable(Layout("", (128, 128, 128), parts=tuple(far)))
    assert 3 * 127 <= sum(one.is_temporary for one in order.steps) / 2 <= 3 * 200
    thin = assert_buildable(Layout("", (1, 1, 100), parts=(Support((0, 0, 99)),)))
    assert len(thin.steps) == 2 * 99 + 1


@settings(max_examples=100)
@given(st.data())
def test_the_order_of_parts_in_the_file_changes_nothing(data: st.DataObject) -> None:
    layout = data.draw(layouts(most_parts=20))
    shuffled = Layout(layout.title, layout.size, parts=tuple(data.draw(st.permutations(layout.parts))))
    assert build_order(shuffled).steps == build_order(layout).steps


def fewest_begun(bodies: list[Part]) -> int:
    """By trying every order: how many bodies find nothing to go against, at the least."""

    def begun(order: tuple[Part, ...]) -> int:
        there: set[Cell] = set()
        count = 0
        for body in order:
            faces = [step(body.at, body.outlet)] if isinstance(body, Node) else neighbours(body.at)
            count += not there & set(faces)
            there.add(body.at)
        return count

    return min((begun(order) for order in permutations(bodies)), default=0)


IN_THE_AIR = st.lists(st.tuples(st.integers(0, 2), st.integers(0, 1), st.just(2)), unique=True, max_size=5)


@settings(max_examples=150)
@given(IN_THE_AIR.flatmap(lambda cells: st.tuples(*(parts_at(cell) for cell in cells))))
@example((Node((0, 0, 2), "E"), Node((1, 0, 2), "E"), Support((2, 0, 2)), Support((2, 1, 2)), Node((1, 1, 2), "E")))
@example((Node((0, 0, 2), "E"), Node((1, 0, 2), "N"), Node((1, 1, 2), "W"), Node((0, 1, 2), "S"), Bin((2, 0, 2))))
def test_no_order_of_a_layer_needs_fewer_temporary_beginnings(parts: tuple[Part, ...]) -> None:
    """Outside check by brute force, over bodies in the air: the graph's count of beginnings is the least."""
    bodies = [part for part in parts if isinstance(part, (Support, Furnace, Bin, Node))]
    chosen = anchors({body.at: body for body in bodies})
    assert set(chosen) == {body.at for body in bodies}
    assert sum(anchor is None for anchor in chosen.values()) == fewest_begun(bodies)
