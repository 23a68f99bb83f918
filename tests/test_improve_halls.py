"""``improve`` on halls and on bare rows: each row by itself, known rows laid over those that do not work."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest

from commands import run
from sim.analysis.checks import design_findings
from sim.analysis.couplings.study import study_of
from sim.analysis.production.lines import line_findings, product_lines
from sim.analysis.production.run import settled_output
from sim.errors import InputError
from sim.world.files.layout_json import layout_json_text
from sim.world.files.reading import load_layout
from sim.world.geometry import HORIZONTAL, Cell, step
from sim.world.layout import Layout
from sim.world.parts import Container, Furnace, Gauge, Inverter, Line, Node, Part, Relay, Support
from sim.world.rulebook import default_rules
from synth.improve.differences import Change
from synth.improve.halls import improve_hall
from synth.improve.patterns import alone, known_patterns, laid_over
from synth.improve.request import Request
from synth.improve.result import Improvement
from synth.improve.search import improve
from synth.improve.single import changed, single_changes

SPECS = Path(__file__).resolve().parent.parent / "specs"
RULES = default_rules()
LIMIT_S = 60.0


@pytest.fixture(scope="module")
def eight(tmp_path_factory: pytest.TempPathFactory) -> Layout:
    """A hall of eight kilns in two wings, as ``propose`` puts it together."""
    folder = tmp_path_factory.mktemp("eight")
    text = (SPECS / "sixteen-kilns.toml").read_text(encoding="utf-8")
    (folder / "spec.toml").write_text(text.replace("furnaces = 16", "furnaces = 8"), encoding="utf-8")
    assert run("propose", str(folder / "spec.toml"), "--top", "1", "--out", str(folder)).exit_code == 0
    return load_layout(folder / "layout-1.json")


def without(layout: Layout, *cells: Cell) -> Layout:
    return replace(layout, parts=tuple(part for part in layout.parts if part.at not in cells))


def bare(layout: Layout) -> Layout:
    return without(layout, *(part.at for part in layout.parts if not isinstance(part, Container)))


def improved(layout: Layout) -> Improvement:
    return improve_hall(layout, Request(limit_s=LIMIT_S))


def works(layout: Layout) -> None:
    """By ways that ``improve`` does not take: no product is lost, every kiln fires without a break."""
    assert design_findings(layout, RULES) == []
    assert list(line_findings(layout, product_lines(layout, RULES))) == []
    assert settled_output(layout, RULES) == 360 * sum(isinstance(part, Furnace) for part in layout.parts)


def first(layout: Layout, kind: type[Part]) -> Part:
    return next(part for part in layout.parts if isinstance(part, kind))


def test_a_hall_as_proposed_needs_no_change(eight: Layout) -> None:
    answer = improved(eight)
    assert (answer.status, answer.schemes, answer.rows) == ("passes", ("burst row",), ())


@pytest.mark.parametrize("kind", [Relay, Gauge, Inverter, Line, Support], ids=lambda kind: str(kind.__name__))
def test_one_part_that_is_missing_comes_back(eight: Layout, kind: type[Part]) -> None:
    part = first(eight, kind)
    answer = improved(without(eight, part.at))
    assert answer.changes == [Change(None, part)]
    assert answer.proof == "as it stands"
    assert answer.layout is not None
    works(answer.layout)


def test_a_relay_that_looks_the_wrong_way_is_turned(eight: Layout) -> None:
    relay = first(eight, Relay)
    assert isinstance(relay, Relay)
    wrong = Change(relay, replace(relay, output="E" if relay.output == "W" else "W"))
    answer = improved(changed(eight, wrong))
    assert answer.changes == [Change(wrong.after, relay)]


def test_a_row_that_keeps_less_than_its_like_is_one_that_does_not_work(eight: Layout) -> None:
    """Without its last relay a burst row still empties small loads: another scheme would let it pass."""
    rows = {stream.name: alone(study_of(eight, RULES), stream) for stream in eight.streams}
    relay = first(rows["fuel-east"], Relay)
    assert improved(without(eight, relay.at)).rows == ("fuel-east",)


def test_a_product_node_that_pushes_the_wrong_way_is_turned(eight: Layout) -> None:
    """Every trial of the streams passes all the same: their products stay in the kilns."""
    below = [step(part.at, "D") for part in eight.parts if isinstance(part, Furnace)]
    node = eight.by_cell[below[1]]
    assert isinstance(node, Node)
    wrong = replace(node, outlet="N" if node.outlet in "EW" else "E")
    answer = improved(changed(eight, Change(node, wrong)))
    assert answer.before.findings
    assert answer.changes == [Change(wrong, node)]


def test_nodes_and_kilns_without_any_wiring_are_wired(eight: Layout) -> None:
    answer = improved(bare(eight))
    assert answer.status == "found"
    assert {change.action for change in answer.changes} == {"add"}
    assert not answer.proof
    assert answer.layout is not None
    works(answer.layout)


@pytest.mark.parametrize("seed", range(6))
def test_three_changes_at_random_are_made_good(eight: Layout, seed: int) -> None:
    """What is found costs no more than what was done, or the limit says that it is no proof."""
    rng, broken = random.Random(seed), eight
    kilns = {part.at for part in eight.parts if isinstance(part, Furnace)}
    todo = [one for one in single_changes(eight) if one.at not in kilns and not isinstance(one.after, Furnace)]
    for change in rng.sample(todo, 3):
        if broken.by_cell.get(change.at) == change.before:
            broken = changed(broken, change)
    answer = improve_hall(broken, Request(limit_s=15.0))
    assert answer.status in ("found", "passes", "stopped")
    if answer.status == "found":
        assert answer.cost <= 3
        assert answer.layout is not None
        works(answer.layout)


def test_a_list_that_costs_more_than_is_asked_for_is_none(eight: Layout) -> None:
    answer = improve_hall(bare(eight), Request(limit_s=LIMIT_S, most=8))
    assert (answer.status, answer.layout, answer.changes) == ("stopped", None, [])
    assert any("is more than was asked for" in sentence for sentence in answer.scope)


def test_a_hall_that_makes_nothing_does_not_pass(eight: Layout) -> None:
    """Every trial of its streams passes: what burns one tick fires nothing."""
    items = {**eight.items, "charcoal": replace(eight.items["charcoal"], burn=1)}
    answer = improve_hall(replace(eight, items=items), Request(limit_s=5.0))
    assert answer.status == "stopped"
    assert [one.check for one in answer.before.findings] == ["no product"]


def test_a_hall_that_passes_says_what_it_makes(eight: Layout) -> None:
    assert improved(eight).output == 8 * 360


def test_a_stray_line_goes_rather_than_a_node_becoming_a_bin(eight: Layout) -> None:
    """Both make the hall pass at the cost of one; the second gives it another product bin."""
    nodes = [part.at for part in eight.parts if isinstance(part, Node) and part.at[2] == 0]
    free = [beside for cell in nodes for side in HORIZONTAL if (beside := step(cell, side)) not in eight.by_cell]
    stray = next(Line(cell) for cell in free if 0 <= cell[0] < eight.size[0] and 0 <= cell[1] < eight.size[1])
    inverter = Inverter(step(stray.at, "U"), "D")
    for extra in ((stray,), (Support(stray.at), inverter)):
        answer = improved(replace(eight, parts=(*eight.parts, *extra)))
        kinds = {change.after.kind for change in answer.changes if change.after is not None}
        assert "bin" not in kinds


def test_one_wing_is_a_hall_where_product_is_collected(tmp_path: Path) -> None:
    """Its rows may be of two schemes; product nodes count."""
    text = (SPECS / "sixteen-kilns.toml").read_text(encoding="utf-8").replace("sides = 2", "sides = 1")
    text = text.replace("furnaces = 16", "furnaces = 6").replace('enters = "top"', 'leftovers = "hold"\nenters = "top"')
    (tmp_path / "spec.toml").write_text(text, encoding="utf-8")
    assert run("propose", str(tmp_path / "spec.toml"), "--top", "1", "--out", str(tmp_path)).exit_code == 0
    layout = load_layout(tmp_path / "layout-1.json")
    whole = improve(layout, Request(limit_s=LIMIT_S))
    assert (whole.status, whole.schemes, whole.output) == ("passes", ("undrained row", "burst row"), 6 * 360)
    node = layout.by_cell[step(next(part.at for part in layout.parts if isinstance(part, Furnace)), "D")]
    assert improve(without(layout, node.at), Request(limit_s=LIMIT_S)).changes == [Change(None, node)]


def test_a_hall_whose_kiln_is_gone_is_no_task(eight: Layout) -> None:
    with pytest.raises(InputError, match="is no furnace"):
        improved(without(eight, first(eight, Furnace).at))


def test_patterns_lie_on_the_stream_in_the_site_alone(eight: Layout) -> None:
    stream = eight.streams[0]
    for laid in laid_over(eight, stream, known_patterns("top", len(stream.outputs), RULES)):
        assert all(0 <= at < side for part in laid.parts for at, side in zip(part.at, eight.size, strict=True))
        assert not {part.at for part in laid.parts} & {stream.source, *stream.outputs}


def test_a_bare_row_of_eight_is_wired_and_the_list_is_shown_in_part(tmp_path: Path) -> None:
    row = load_layout(SPECS / "layouts" / "burst-row-of-five.plan")
    (tmp_path / "bare.json").write_text(layout_json_text(bare(row)), encoding="utf-8")
    found = run("improve", str(tmp_path / "bare.json"), "--time-limit", "12", "--out", str(tmp_path / "wired.json"))
    assert found.exit_code == 0, found.stdout
    assert "open" in found.stdout or "proved" in found.stdout
    wired = load_layout(tmp_path / "wired.json")
    assert improve(wired, Request(limit_s=LIMIT_S)).status == "passes"


def test_a_hall_is_mended_from_the_command_line(eight: Layout, tmp_path: Path) -> None:
    broken, file = bare(eight), tmp_path / "bare.json"
    file.write_text(layout_json_text(broken), encoding="utf-8")
    found = run("improve", str(file))
    assert found.exit_code == 0
    assert "more: --out FILE writes the whole build" in found.stdout
    assert "By themselves feed-west, feed-east, fuel-west and fuel-east do not work" in found.stdout
