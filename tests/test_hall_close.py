"""Close wings: both rows on one cross-section, wings in one line, product that waits while charcoal is shared out."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from commands import run
from sim.analysis.checks import design_findings
from sim.analysis.couplings import couplings
from sim.analysis.couplings.lockers import lockers
from sim.analysis.couplings.rows import rows_of
from sim.analysis.couplings.study import study_of
from sim.world.files.reading import load_layout
from sim.world.geometry import Cell
from sim.world.layout import Layout
from sim.world.parts import Bin, Furnace, Inverter, Node, Part, Support
from sim.world.rulebook import default_rules
from sim.world.world import World
from synth.hall.joining import Gaps, Joined, joined, layout_alone, pairs_of
from synth.hall.kits import Kit, Tools, kits
from synth.hall.lanes import STRAIGHT_ON
from synth.hall.piece_file import PieceFile, shipped_file
from synth.hall.section import BURST, SECTIONS, Section
from synth.hall.spec_file import load_hall
from synth.hall.wing import Wing
from synth.schemes.undrained_row import SCHEME as UNDRAINED
from synth.solving.budget import Budget

SPECS = Path(__file__).resolve().parent.parent / "specs"
RULES = default_rules()


def answer(*words: str) -> dict[str, Any]:
    result = run(*words, "--json")
    assert result.exit_code == 0, result.stderr
    found: dict[str, Any] = json.loads(result.stdout)
    return found


@cache
def close_kit() -> Kit:
    spec = load_hall(SPECS / "sixteen-kilns.toml")
    tools = Tools(PieceFile(shipped_file()), Budget(30.0), 1, 0, lambda _: None)
    kit = next(iter(kits(spec, None, tools)))
    assert kit.end == STRAIGHT_ON
    return kit


def wing(n: int) -> Wing:
    kit = close_kit()
    return Wing(n, kit.feed, kit.fuel, kit.end, finishes={"side": "marked"})


def hall(*sides: list[int], gap: int = 0) -> Joined:
    return joined([[wing(n) for n in side] for side in sides], Gaps(gap))


def built(together: Joined) -> Layout:
    return layout_alone(together, RULES)


@pytest.fixture(scope="module")
def sixteen(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Layout]:
    out = tmp_path_factory.mktemp("close")
    found = answer("propose", str(SPECS / "sixteen-kilns.toml"), "--top", "1", "--out", str(out))
    return found, load_layout(out / "layout-1.json")


def test_sixteen_kilns_take_no_more_than_five_hundred_cells(sixteen: tuple[dict[str, Any], Layout]) -> None:
    found, layout = sixteen
    width, depth, height = layout.size
    assert width * depth * height <= 500
    assert design_findings(layout) == []
    assert found["layouts"][0]["measures"]["throughput"] == 5760


def of_the_spec(section: Section, folder: Path) -> Path:
    """The spec of sixteen kilns, with leftovers held where that cross-section has an undrained row."""
    text = (SPECS / "sixteen-kilns.toml").read_text(encoding="utf-8")
    for face, scheme in zip(("top", "side"), section.schemes, strict=True):
        if scheme == UNDRAINED.name:
            text = text.replace(f'enters = "{face}"', f'leftovers = "hold"\nenters = "{face}"')
    path = folder / "hall.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(("section", "columns"), [(SECTIONS[0], 20), (SECTIONS[1], 24)], ids=("undrained", "mixed"))
def test_rows_that_hold_leftovers_take_less(section: Section, columns: int, tmp_path: Path) -> None:
    found = answer("propose", str(of_the_spec(section, tmp_path)), "--top", "1")
    (best,) = found["layouts"]
    assert best["measures"]["box"] == [columns, 4, 5]
    assert best["measures"]["parts"] < 283, "fewer than with two burst rows"
    assert best["product_leaves_at"] == STRAIGHT_ON


def test_a_hall_is_told_with_its_bound_and_gap(sixteen: tuple[dict[str, Any], Layout]) -> None:
    found, layout = sixteen
    bound = found["bound"]
    assert isinstance(bound, dict)
    width, depth, height = layout.size
    cells = width * depth * height
    assert 0 < bound["cells"] <= cells
    assert bound["gap"] == pytest.approx(1 - bound["cells"] / cells, abs=1e-4)
    assert bound["wings_across"] == 1
    told = run("propose", str(SPECS / "sixteen-kilns.toml"), "--top", "1").stdout
    assert f"no hall of its kind takes fewer than {bound['cells']} cells" in told


def test_no_bound_is_told_of_wings_whose_columns_do_not_repeat(tmp_path: Path) -> None:
    """Two columns are the head's; of four kilns a wing none stands between two like it, of five one does."""
    text = (SPECS / "sixteen-kilns.toml").read_text(encoding="utf-8")
    for furnaces, told in ((8, False), (10, True)):
        (tmp_path / "spec.toml").write_text(text.replace("furnaces = 16", f"furnaces = {furnaces}"), encoding="utf-8")
        assert ("bound" in answer("propose", str(tmp_path / "spec.toml"), "--top", "1")) is told


@pytest.mark.parametrize("sides", [[[3]], [[3], [4]], [[5, 3]], [[3, 3], [3, 3]], [[3, 4, 5]]], ids=str)
def test_wings_in_a_line_keep_to_themselves(sides: list[list[int]]) -> None:
    together = hall(*sides, gap=0 if sum(map(len, sides)) <= 2 else 1)
    layout = built(together)
    assert couplings(layout, RULES) == []
    assert together.depth == 4
    assert sum(isinstance(part, Furnace) for part in layout.parts) == sum(map(sum, sides))
    assert len(together.product_bins) == -(-sum(map(len, sides)) // 2)


def test_all_product_nodes_lead_to_a_product_bin() -> None:
    """Followed outlet by outlet, from below each furnace."""
    for layout in (built(hall([3], [4])), built(hall([3, 4], gap=2))):
        bins = {part.at for part in layout.parts if isinstance(part, Bin)}
        for part in layout.parts:
            if isinstance(part, Furnace):
                x, y, z = part.at
                at: Cell = (x, y, z - 1)
                for _ in range(len(layout.parts)):
                    node = layout.by_cell[at]
                    if not isinstance(node, Node):
                        break
                    dx, dy = {"E": (1, 0), "W": (-1, 0), "N": (0, 1), "S": (0, -1)}[node.outlet]
                    at = (at[0] + dx, at[1] + dy, at[2])
                assert at in bins


def test_pairs_are_made_across_the_sides() -> None:
    names = [[one.n for one in pair] for pair in pairs_of([[wing(3), wing(4)], [wing(5), wing(6)]])]
    assert names == [[3, 5], [4, 6]]
    assert [[one.n for one in pair] for pair in pairs_of([[wing(3), wing(4), wing(5)]])] == [[3, 4], [5]]


def test_product_waits_just_while_charcoal_is_shared_out(sixteen: tuple[dict[str, Any], Layout]) -> None:
    """A product node is locked exactly when the B nodes of the fuel row are; never at rest."""
    layout = built(hall([4]))
    rows = rows_of(layout)
    world = World(layout, RULES)
    nodes = world.field.wiring.nodes
    product = {i for i, cell in enumerate(nodes) if rows.is_product(cell)}
    drops = {i for i, cell in enumerate(nodes) if rows.labels[cell].startswith("B") and "fuel" in rows.labels[cell]}
    under = {i for i in product if any(abs(nodes[i][0] - nodes[j][0]) == 0 for j in drops)}
    fuel = next(stream for stream in layout.streams if stream.name.startswith("fuel"))
    assert not any(world.field.locked[i] for i in product), "at rest"
    world.put([(fuel.source, fuel.item, 40)])
    seen = set()
    for _ in range(700):
        world.advance()
        locked = {world.field.locked[i] for i in drops}
        assert {world.field.locked[i] for i in under} == locked
        seen |= locked
    assert seen == {True, False}
    assert world.is_at_rest()
    assert not any(world.field.locked[i] for i in product), "at rest again"


def test_a_lock_that_product_does_not_share_is_still_a_coupling() -> None:
    """An inverter of the fuel row's run beside a product node alone, out of reach of every B node."""
    layout = built(hall([4]))
    study = study_of(layout, RULES)
    assert all(not one.is_coupling for one in lockers(study))
    inverters = sorted(part.at for part in layout.parts if isinstance(part, Inverter) and part.mount == "N")
    below = next(at for at in inverters if layout.by_cell.get((at[0], at[1], at[2] + 1)))
    x, y, z = below
    drop = layout.by_cell[x, y, z + 1]
    assert isinstance(drop, Node)
    spoiled = replace(layout, parts=tuple(Support(part.at) if part is drop else part for part in layout.parts))
    found = [one for one in couplings(spoiled, RULES) if one.kind == "product"]
    assert found, "the product node has no B node to share the lock with"


def columns(parts: Iterator[Part], x: int) -> set[tuple[int, int, str]]:
    return {(part.at[1], part.at[2], part.kind) for part in parts if part.at[0] == x}


def test_columns_are_alike_but_at_the_ends() -> None:
    parts = list(wing(9).parts())
    inner = [columns(iter(parts), x) for x in range(close_kit().feed.lead, 9)]
    assert all(one == other for one, other in pairwise(inner))
    wiring = {(part.at[1], part.at[2], part.kind) for part in (*BURST.feed, *BURST.fuel)}
    assert wiring <= inner[0]


def test_what_is_claimed_of_close_pieces_names_their_cross_section() -> None:
    for row in (close_kit().feed, close_kit().fuel):
        heads = [claim for claim in row.claims if claim.piece == "head and tail"]
        assert heads
        assert all(claim.proved for claim in heads)
        assert any("given cross-section" in limit for limit in row.limits)


def test_more_product_bins_than_pairs_are_not_put_there(tmp_path: Path) -> None:
    text = (SPECS / "sixteen-kilns.toml").read_text(encoding="utf-8").replace("product_bins = 1", "product_bins = 2")
    spec = tmp_path / "two-bins.toml"
    spec.write_text(text, encoding="utf-8")
    found = answer("propose", str(spec), "--top", "9")
    in_line = [one for one in found["layouts"] if one["product_leaves_at"] == STRAIGHT_ON]
    assert all(len(one["wings"][0]) == 2 for one in in_line), "two pairs, two bins"
    assert any("has places for 1 product bin; the spec wants 2" in why for why in found["refusals"])


@pytest.mark.parametrize("words", [("--resume", "x.json"), ("--memory-limit", "512")], ids=lambda words: words[0])
@pytest.mark.parametrize("command", ["propose", "tighter"])
def test_options_that_a_hall_has_no_use_for_are_refused(command: str, words: tuple[str, str]) -> None:
    result = run(command, str(SPECS / "sixteen-kilns.toml"), *words)
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    assert words[0] in result.stderr
    assert "leave it out" in result.stderr


def test_tighter_takes_the_spec_of_a_hall(tmp_path: Path) -> None:
    found = answer("tighter", str(SPECS / "sixteen-kilns.toml"), "--out", str(tmp_path / "out"))
    assert found["bound"]["cells"] <= found["layouts"][0]["measures"]["volume"]
    assert (tmp_path / "out" / "layout-1.json").exists()


def test_lines_that_cannot_carry_the_product_are_told_at_once_with_what_would_help(tmp_path: Path) -> None:
    """A node passes an item each 8 ticks: 20 x 3600 / 8 = 9000 an hour into a bin; 64 kilns fire 23,040."""
    text = (SPECS / "sixteen-kilns.toml").read_text(encoding="utf-8").replace("furnaces = 16", "furnaces = 64")
    spec = tmp_path / "one-bin.toml"
    spec.write_text(text, encoding="utf-8")
    found = run("propose", str(spec))
    assert found.exit_code == 3
    assert "What may help: ask for 3 product bins (product_bins = 3), or leave product_bins out." in found.stdout
    spec.write_text(text.replace("product_bins = 1", "product_bins = 3"), encoding="utf-8")
    assert answer("propose", str(spec), "--top", "1")["layouts"][0]["measures"]["throughput"] > 22_000
