"""docs/results.md and what it stands on: layouts that do what is said of them, formulas that are those confirmed."""

from __future__ import annotations

import importlib.util
import json
import sys
from itertools import product
from pathlib import Path
from types import ModuleType
from typing import Any

import networkx as nx
import pytest

from sim.world.files.reading import load_layout
from sim.world.geometry import Cell, step
from sim.world.layout import Layout
from sim.world.parts import Furnace, Node
from sim.world.trial import Arrival, Trial
from synth.ask.spec import Spec
from synth.confirm.judge import Judge
from synth.model.plots import plots, question_for, windows
from synth.schemes.registry import scheme_named
from synth.search.exact.bounds import fewest_parts
from synth.search.exact.caps import Caps
from synth.search.exact.certificate import by_cp_sat, by_glucose, formula_of
from synth.search.scope import needed_handovers

REPOSITORY = Path(__file__).resolve().parent.parent
RESULTS = REPOSITORY / "specs" / "results"
RECORD: dict[str, Any] = json.loads((RESULTS / "record.json").read_text(encoding="utf-8"))
CERTIFICATES: list[dict[str, Any]] = json.loads((RESULTS / "certificates.json").read_text(encoding="utf-8"))["boxes"]
ROWS = {f"{row['scheme']}, {row['row']}, {row['outputs']}": row for row in RECORD["rows"]}


@pytest.fixture(scope="module")
def docs() -> dict[str, ModuleType]:
    """The scripts of docs/, which are no package."""
    modules = {}
    sys.path.insert(0, str(REPOSITORY / "docs"))
    try:
        for name in ("make_results", "make_certificates", "results_page"):
            spec = importlib.util.spec_from_file_location(name, REPOSITORY / "docs" / f"{name}.py")
            assert spec is not None
            assert spec.loader is not None
            modules[name] = sys.modules[name] = importlib.util.module_from_spec(spec)
            spec.loader.exec_module(modules[name])
    finally:
        sys.path.remove(str(REPOSITORY / "docs"))
    return modules


def spec_of(docs: dict[str, ModuleType], row: dict[str, Any]) -> Spec:
    """The question that a row of the record, or a certificate, is about."""
    made: Spec = docs["make_results"].spec_for(docs["make_results"].Case.of(row))
    return made


def test_the_page_is_made_of_the_record(docs: dict[str, ModuleType]) -> None:
    page = (REPOSITORY / "docs" / "results.md").read_text(encoding="utf-8")
    assert page == "\n".join(docs["results_page"].page()) + "\n"


def rows_of(page: str) -> list[list[str]]:
    """The cells of the tables of a page, row by row."""
    lines = (REPOSITORY / page).read_text(encoding="utf-8").splitlines()
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines if line.startswith("|")]


RESULTS_TABLE = {(cells[0], cells[1]): cells for cells in rows_of("docs/results.md") if len(cells) == 8}
"""Row by row as the page of results has them, which is made of the record."""


def test_the_smallest_builds_of_the_readme_are_those_of_the_results() -> None:
    (figures,) = [cells for cells in rows_of("README.md") if cells[0] == "smallest burst rows for 2, 3, 4 kilns"]
    said = [RESULTS_TABLE["burst row", n][2] for n in ("2", "3", "4")]
    cells, proved = zip(*(one.split(", ") for one in said), strict=True)
    assert [figures[1]] == [f"{', '.join(cells)} cells, {how}" for how in set(proved)], "all are proved, or none is"
    (two,) = [cells for cells in rows_of("README.md") if cells[0].startswith("two kilns: ")]
    assert f"{RESULTS_TABLE['muster row', '2'][4]}".split(", ")[0] == two[1].split()[-2]


@pytest.mark.parametrize("count", ["2", "3", "4"])
def test_so_are_those_of_the_figures(count: str) -> None:
    (told,) = [cells for cells in rows_of("docs/figures.md") if cells[0] == count]
    _, _, volume, box, parts, latency, *_ = RESULTS_TABLE["burst row", count]
    assert told[1:5] == [volume.replace(",", " cells,", 1), box, parts, latency]


@pytest.mark.parametrize("rests_on", [None, "0" * 64])
def test_nothing_is_called_proved_that_another_model_proved(
    rests_on: str | None, docs: dict[str, ModuleType], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = [{**row, "rests_on": rests_on} for row in RECORD["rows"]]
    (tmp_path / "record.json").write_text(json.dumps({**RECORD, "rows": rows}), encoding="utf-8")
    monkeypatch.setattr(docs["results_page"], "RECORD", tmp_path / "record.json")
    table = [line for line in docs["results_page"].page() if line.startswith("| burst row")]
    assert table
    assert not any("proved" in line.replace(docs["results_page"].EARLIER, "") for line in table)


@pytest.mark.parametrize("name", [name for name, row in ROWS.items() if "layout" in row])
def test_the_layout_is_what_the_record_says(name: str, docs: dict[str, ModuleType]) -> None:
    row = ROWS[name]
    plan = load_layout(REPOSITORY / row["layout"])
    assert plan.parts == load_layout((REPOSITORY / row["layout"]).with_suffix(".json")).parts
    spec = spec_of(docs, row)
    judge = Judge(spec, needed_handovers(spec))
    assert judge.accepts(plan)
    assert judge.as_it_is(plan).measures.as_json() == row["measures"]
    values = {one["measure"]: one["value"] for one in row["steps"]}
    assert values["volume"] == row["measures"]["volume"]
    assert values["parts"] == row["measures"]["parts"] >= fewest_parts(spec)


@pytest.mark.parametrize("name", list(ROWS))
def test_what_is_proved_is_covered_by_claims(name: str, docs: dict[str, ModuleType]) -> None:
    """Every shape of fewer cells lies within a box that is ruled out; counted here without the search's own boxes."""
    row = ROWS[name]
    volume = next(one for one in row["steps"] if one["measure"] == "volume")
    if not volume["proved"]:
        pytest.skip("the volume is not proved")
    within = docs["make_certificates"].within
    ruled_out = [tuple(claim["box"]) for claim in row["ruled_out"] if claim["parts"] is None and claim["price"] is None]
    cells, nodes = int(volume["value"]), scheme_named(row["scheme"]).row_length(row["outputs"])
    shapes = [
        (w, d, h)
        for w, d, h in product(range(1, cells), repeat=3)
        if w >= d and w * d >= nodes and h >= 4 and w * d * h < cells
    ]
    assert shapes
    assert [shape for shape in shapes if not any(within(shape, box) for box in ruled_out)] == []
    assert not any(within(tuple(row["measures"]["box"]), box) for box in ruled_out)


@pytest.mark.parametrize(
    "entry",
    [one for one in CERTIFICATES if one["outputs"] <= 3],
    ids=lambda one: f"{one['scheme']}-{one['outputs']}-{one['box']}",
)
def test_the_formulas_are_those_that_were_confirmed(entry: dict[str, Any], docs: dict[str, ModuleType]) -> None:
    """A change of the model changes them; then docs/results.md has to be made anew."""
    spec = spec_of(docs, entry)
    (plot,) = plots(spec, tuple(entry["box"]))
    question = question_for(spec, plot, windows(spec, needed_handovers(spec)))
    formula = formula_of(question, Caps(entry["parts"]))
    assert (formula.cnf.count, len(formula.cnf.clauses)) == (entry["variables"], entry["clauses"])
    assert formula.sha256 == entry["sha256"]


@pytest.mark.slow
def test_a_certificate_can_be_had_again_and_none_for_what_exists(docs: dict[str, ModuleType]) -> None:
    spec = spec_of(docs, ROWS["burst row, any, 2"])
    for box, opinion in (((3, 2, 4), "none exists"), ((4, 2, 4), "found")):
        (plot,) = plots(spec, box)
        formula = formula_of(question_for(spec, plot, windows(spec, needed_handovers(spec))), Caps())
        for second in (by_cp_sat(formula, 120.0), by_glucose(formula, 1_000_000)):
            assert (second.opinion, second.checked) == (opinion, opinion == "none exists"), second


def exchange_graph(layout: Layout) -> nx.Graph[Cell]:
    """Nodes and furnaces that exchange items."""
    graph: nx.Graph[Cell] = nx.Graph()
    machines = {part.at: part for part in layout.parts if isinstance(part, (Node, Furnace))}
    for at, part in machines.items():
        if isinstance(part, Node):
            neighbours = [step(at, part.outlet), step(at, "U")]
            graph.add_edges_from((at, other) for other in neighbours if other in machines)
    return graph


@pytest.mark.slow
@pytest.mark.parametrize("handover", [8, 7])
def test_the_smallest_build_for_two_is_even_in_every_update_order(handover: int) -> None:
    """Every acyclic orientation of the exchange graph, for loads of N and 3N: more than the search itself confirms."""
    layout = load_layout(REPOSITORY / ROWS["burst row, any, 2"]["layout"])
    layout = Layout(layout.title, layout.size, layout.items, layout.parts, layout.streams, {"handover": handover})
    edges = sorted(exchange_graph(layout).edges)
    assert len(edges) == 6
    for turned in product((False, True), repeat=len(edges)):
        directed = nx.DiGraph((b, a) if flip else (a, b) for (a, b), flip in zip(edges, turned, strict=True))
        order = list(nx.lexicographical_topological_sort(directed))
        for each in (1, 3):
            (stream,) = layout.streams
            result = Trial(layout, order=order).run([Arrival(0, stream.name, each * 2)], limit=50_000)
            assert result.streams[0].delivered == (each, each)
            assert result.streams[0].held == 0
